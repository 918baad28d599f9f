use harness_core::study::*;
use harness_core::*;
use std::time::Instant;
fn main() {
    for f in std::env::args().skip(1) {
        let text = std::fs::read_to_string(&f).unwrap();
        let model = file_format::read(&text).unwrap();
        for _ in 0..3 {
            let m = model.clone();
            let t = Instant::now();
            let s = Study::of(m, BoatChoice::Every).unwrap();
            println!("every {:?} {}", t.elapsed(), s.findings.len());
        }
        let s = Study::of(model.clone(), BoatChoice::Every).unwrap();
        let e = s.every.as_ref().unwrap();
        println!(
            "boats {} judged {} proven {} unproven {}",
            s.boats.count(),
            e.candidates.boats.len(),
            e.candidates.proven,
            e.candidates.unproven.len()
        );
        for (i, f) in s.findings.iter().enumerate() {
            if f.fails() {
                println!("{} {} {:?}", f.rule, f.message, s.extent(i));
            }
        }
        let c = report::Counts::of(s.findings.iter());
        println!("{c:?}");
        let t = Instant::now();
        let s = Study::of(model, BoatChoice::Fullest).unwrap();
        println!("one {:?} {}", t.elapsed(), s.findings.len());
    }
}
