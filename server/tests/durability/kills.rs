//! SIGKILL at any moment: while people edit, and while the service starts.

use std::thread;
use std::time::{Duration, Instant};

use crate::books::{Books, Tally, assert_sound};
use crate::client::Client;
use crate::editing;
use crate::service::{Service, kill, shipped, spawn};
use crate::{Folder, size, tell};

/// Kills of one store; then a new one, so that reading all of it stays quick.
const OF_ONE_STORE: usize = 25;
/// Most changes acknowledged before the kill.
const MOST_EDITING: usize = 30;
/// Longest that the service starts before the kill.
const MOST_STARTING: Duration = Duration::from_millis(25);
/// One kill in so many falls into the start.
const IN_START: usize = 8;

#[test]
fn a_kill_at_any_moment_loses_nothing_acknowledged() {
    let kills = size("KILLS", 40);
    let start = Instant::now();
    let mut tally = Tally::default();
    let mut starting = 0;
    let mut done = 0;
    while done < kills {
        let folder = Folder::new();
        let mut books = Books::default();
        let of_this = (kills - done).min(OF_ONE_STORE);
        for round in done..done + of_this {
            if fastrand::usize(..IN_START) == 0 {
                starting += 1;
                let mut child = spawn(&mut shipped(&folder.0));
                thread::sleep(MOST_STARTING.mul_f64(fastrand::f64()));
                kill(&mut child);
                continue;
            }
            let (mut service, client) = restarted(&folder, &mut books, &mut tally);
            let seen = books.set_up(&client, &mut tally);
            let after = fastrand::usize(..=MOST_EDITING);
            books.note(editing::until_killed(&mut service, seen, round, after));
        }
        let (_service, client) = restarted(&folder, &mut books, &mut tally);
        books.read_all(&client);
        done += of_this;
    }
    tell(&format!(
        "{kills} kills, {starting} of them while starting: {tally}; {:.1} kills a second",
        kills as f64 / start.elapsed().as_secs_f64()
    ));
    assert_eq!(tally.lost, 0);
    assert!(
        tally.acknowledged > kills,
        "hardly anything was saved: {tally}"
    );
}

/// The service on a store that was left as it was, compared with the books.
fn restarted(folder: &Folder, books: &mut Books, tally: &mut Tally) -> (Service, Client) {
    let service = Service::start(&mut shipped(&folder.0));
    let client = Client::new(&service.address);
    books.compare(&client, tally);
    assert_sound(&folder.0);
    (service, client)
}
