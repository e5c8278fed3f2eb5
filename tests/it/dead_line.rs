//! A line between the program and a server within the test, which goes dead once at a given place and says when it has.
//! What comes after that passes.

use std::io::{Read, Write};
use std::net::{Ipv4Addr, Shutdown, TcpListener, TcpStream};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::Duration;

/// Where it goes dead.
#[derive(Clone, Copy, Debug)]
pub enum Dead {
    /// When there is a connection, before a word.
    Connected,
    /// At the n-th time that these words are said to the server, which never gets them.
    Asked(&'static str, usize),
    /// The same, but the server gets them, and of its answer so many bytes come back.
    Answered(&'static str, usize, usize),
}

pub struct DeadLine {
    port: u16,
    went: Receiver<()>,
}

/// What all connections share.
struct Shared {
    dead: Mutex<Option<Dead>>,
    /// How often the words were said.
    times: Mutex<usize>,
    says: Sender<()>,
}

impl DeadLine {
    /// To the server on that port of this machine.
    pub fn to(server: u16, dead: Option<Dead>) -> Self {
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).unwrap();
        let port = listener.local_addr().unwrap().port();
        let (says, went) = channel();
        let shared = Arc::new(Shared {
            dead: Mutex::new(dead),
            times: Mutex::new(0),
            says,
        });
        thread::spawn(move || {
            for client in listener.incoming() {
                let shared = Arc::clone(&shared);
                // A client that goes away is an error here and the end of the connection.
                thread::spawn(move || drop(shared.carry(client.unwrap(), server)));
            }
        });
        Self { port, went }
    }

    pub fn port(&self) -> u16 {
        self.port
    }

    /// Blocks until it has gone dead; fails after twenty seconds.
    #[track_caller]
    pub fn wait(&self) {
        let went = self.went.recv_timeout(Duration::from_secs(20));
        assert!(went.is_ok(), "it never came to where the line goes dead");
    }
}

impl Shared {
    /// One connection, until the client has gone.
    fn carry(&self, mut client: TcpStream, server: u16) -> std::io::Result<()> {
        if self.hits(|dead| matches!(dead, Dead::Connected)).is_some() {
            return self.go_dead(&mut client);
        }
        let mut server = TcpStream::connect((Ipv4Addr::LOCALHOST, server))?;
        let (mut back, to_client) = (server.try_clone()?, client.try_clone()?);
        let room = Arc::new(Mutex::new(None));
        let (left, says) = (Arc::clone(&room), self.says.clone());
        thread::spawn(move || drop(answer(&mut back, &to_client, &left, &says)));
        let mut bytes = [0; 16384];
        loop {
            let read = client.read(&mut bytes)?;
            if read == 0 {
                return server.shutdown(Shutdown::Both);
            }
            let said = String::from_utf8_lossy(&bytes[..read]);
            match self.hits(|dead| self.is_said(dead, &said)) {
                Some(Dead::Answered(_, _, some)) => *room.lock().unwrap() = Some(some),
                Some(_) => return self.go_dead(&mut client),
                None => {}
            }
            server.write_all(&bytes[..read])?;
        }
    }

    /// Whether it goes dead here, which it does once.
    fn hits(&self, here: impl Fn(Dead) -> bool) -> Option<Dead> {
        self.dead.lock().unwrap().take_if(|dead| here(*dead))
    }

    fn is_said(&self, dead: Dead, said: &str) -> bool {
        let (Dead::Asked(words, nth) | Dead::Answered(words, nth, _)) = dead else {
            return false;
        };
        let mut times = self.times.lock().unwrap();
        *times += usize::from(said.contains(words));
        said.contains(words) && *times == nth
    }

    fn go_dead(&self, client: &mut TcpStream) -> std::io::Result<()> {
        let _ = self.says.send(());
        std::io::copy(client, &mut std::io::sink()).map(drop)
    }
}

/// What the server says, as far as there is room.
fn answer(
    server: &mut TcpStream,
    mut client: &TcpStream,
    room: &Mutex<Option<usize>>,
    says: &Sender<()>,
) -> std::io::Result<()> {
    let mut bytes = [0; 16384];
    loop {
        let read = server.read(&mut bytes)?;
        if read == 0 {
            return client.shutdown(Shutdown::Write);
        }
        let mut room = room.lock().unwrap();
        let some = room.map_or(read, |room| room.min(read));
        client.write_all(&bytes[..some])?;
        if some < read {
            let _ = says.send(());
            return Ok(());
        }
        *room = room.map(|room| room - some);
    }
}
