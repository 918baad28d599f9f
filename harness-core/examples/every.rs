use harness_core::study::*;
use harness_core::*;
use std::time::Instant;
fn main() {
    for f in std::env::args().skip(1) {
        let text = std::fs::read_to_string(&f).unwrap();
        let model = file_format::read(&text).unwrap();
        let options = options_of(&model);
        let t = Instant::now();
        let boats = boats::BoatSet::of(&options).unwrap();
        let routing = routing::Routing::of(&model);
        let first = boats.fullest().unwrap();
        println!(
            "{f} boats {} routing+boats {:?}",
            boats.count(),
            t.elapsed()
        );
        let t = Instant::now();
        let e = worst::EveryBoat::of(&model, &routing, &options, &boats, &first).unwrap();
        println!(
            "every {:?} candidates {} proven {} unproven {} solves {}",
            t.elapsed(),
            e.candidates.boats.len(),
            e.candidates.proven,
            e.candidates.unproven.len(),
            e.candidates.solves
        );
        for u in e.candidates.unproven.iter().take(5) {
            println!("  {u}");
        }
        let mut n = [0; 3];
        for (i, f) in e.findings.iter().enumerate() {
            match f.outcome {
                rules::Outcome::Met => n[0] += 1,
                rules::Outcome::Fails => {
                    n[1] += 1;
                    if n[1] < 15 {
                        println!("{} {} [{}]", f.rule, f.message, e.boat(i).len())
                    }
                }
                _ => {
                    n[2] += 1;
                    println!("?? {} {}", f.rule, f.message);
                }
            }
        }
        println!("{n:?}");
        let t = Instant::now();
        let s = Study::of(model, BoatChoice::Fullest).unwrap();
        println!("study {:?} {}", t.elapsed(), s.findings.len());
    }
}
