//! The power is cut at any moment; of what was written only what was synced is sure to be there.
//!
//! The shipped program must lose nothing. That this could be noticed at all is shown by the same
//! service on a store that does not sync each commit: it must lose, and still not break.

use std::env;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::Command;

use server::router::{AppState, app};
use server::store::Store;

use crate::books::{Books, Tally, assert_sound};
use crate::client::Client;
use crate::disk::{Disk, Unsynced};
use crate::editing;
use crate::service::{Service, shipped};
use crate::{size, tell};

/// Cuts of one disk; then a new one with a first start.
const OF_ONE_DISK: usize = 20;
/// Most changes acknowledged before the cut.
const MOST_EDITING: usize = 40;

const FOLDER: &str = "DURABILITY_SERVE";
const SYNCS: &str = "DURABILITY_SYNCS";

fn cuts() -> usize {
    size("POWER_CUTS", 12)
}

#[test]
fn a_power_cut_loses_nothing_acknowledged() {
    let cuts = cuts();
    let tally = cut_again_and_again(cuts, &shipped);
    tell(&format!("{cuts} power cuts, synchronous FULL: {tally}"));
    assert_eq!(tally.lost, 0);
    assert!(
        tally.acknowledged > cuts,
        "hardly anything was saved: {tally}"
    );
}

#[test]
fn without_a_sync_of_each_commit_the_same_power_cuts_lose() {
    let cuts = cuts();
    let control = cut_again_and_again(cuts, &|data| served(data, "commits"));
    tell(&format!(
        "{cuts} power cuts, FULL, served by the test: {control}"
    ));
    assert_eq!(control.lost, 0);
    let tally = cut_again_and_again(cuts, &|data| served(data, "checkpoints"));
    tell(&format!(
        "{cuts} power cuts, NORMAL, served by the test: {tally}"
    ));
    // sqlite.org, pragma synchronous: in WAL mode NORMAL loses durability, never consistency.
    assert!(tally.lost > 0 && tally.losing * 2 > cuts, "{tally}");
}

fn cut_again_and_again(cuts: usize, service_on: &dyn Fn(&Path) -> Command) -> Tally {
    let mut tally = Tally::default();
    let mut done = 0;
    while done < cuts {
        let mut disk = Disk::new();
        let mut books = Books::default();
        let of_this = (cuts - done).min(OF_ONE_DISK);
        for round in done..=done + of_this {
            let data = disk.data();
            let mut service = Service::start(disk.run(&mut service_on(&data)));
            let client = Client::new(&service.address);
            books.compare(&client, &mut tally);
            assert_sound(&data);
            if round == done + of_this {
                books.read_all(&client);
                break;
            }
            let seen = books.set_up(&client, &mut tally);
            let after = fastrand::usize(..=MOST_EDITING);
            books.note(editing::until_killed(&mut service, seen, round, after));
            let torn = fastrand::bool();
            disk = disk.cut(if torn { Unsynced::Torn } else { Unsynced::Gone });
        }
        done += of_this;
    }
    tally
}

/// This program again, as the service on a store that syncs so often.
fn served(data: &Path, syncs: &str) -> Command {
    let mut command = Command::new(env::current_exe().unwrap());
    command
        .args(["--exact", "power_cuts::serve", "--ignored", "--nocapture"])
        .env(FOLDER, data)
        .env(SYNCS, syncs);
    command
}

#[test]
#[ignore = "is the service of another test, in a process of its own"]
fn serve() {
    let Some(folder) = env::var_os(FOLDER).map(PathBuf::from) else {
        return;
    };
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build();
    runtime.unwrap().block_on(async {
        let store = match env::var(SYNCS).unwrap().as_str() {
            "commits" => Store::open(&folder).await,
            _ => Store::open_and_lose_on_power_cuts(&folder).await,
        };
        let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = listener.local_addr().unwrap();
        writeln!(std::io::stdout(), "Listening on http://{address}/").unwrap();
        axum::serve(listener, app(AppState::new(store.unwrap())))
            .await
            .unwrap();
    });
}
