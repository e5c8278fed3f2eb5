//! A server within the test that does what services do on bad days, byte by byte: any bytes, half of them, drop by drop,
//! without end, or nothing. With a certificate that it made itself, where it is asked for one.
//!
//! It is plain threads: what is tested is how the program waits, not the server.

use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use std::io::{ErrorKind, Read, Write};
use std::net::{Ipv4Addr, SocketAddr, TcpListener, TcpStream};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Barrier, Mutex};
use std::time::Duration;

/// What it does with a request.
#[derive(Clone)]
pub enum Reply {
    /// These bytes, and the end of the connection.
    Bytes(Vec<u8>),
    /// A head, then a blank every few milliseconds.
    Drip,
    /// A head, then blanks as fast as they are taken.
    Endless,
    /// Not a word.
    Silent,
    /// These bytes, once so many requests are being answered at the same time.
    Together(Arc<Barrier>, Vec<u8>),
    /// These bytes after a while.
    Later(Duration, Vec<u8>),
}

/// A whole answer.
pub fn say(status: u16, headers: &[(&str, &str)], body: impl AsRef<[u8]>) -> Reply {
    let body = body.as_ref();
    let headers: String = headers
        .iter()
        .map(|(k, v)| format!("{k}: {v}\r\n"))
        .collect();
    let length = body.len();
    let head = format!(
        "HTTP/1.1 {status} Said\r\n{headers}content-length: {length}\r\nconnection: close\r\n\r\n"
    );
    Reply::Bytes([head.as_bytes(), body].concat())
}

pub fn json(status: u16, body: impl AsRef<[u8]>) -> Reply {
    say(status, &[("content-type", "application/json")], body)
}

pub fn html(status: u16, body: &str) -> Reply {
    say(status, &[("content-type", "text/html")], body)
}

/// The server.
#[derive(Clone)]
pub struct Scripted {
    shared: Arc<Shared>,
}

struct Shared {
    address: SocketAddr,
    scheme: &'static str,
    reply: Mutex<Reply>,
    heads: Mutex<Vec<String>>,
    busy: AtomicUsize,
    busiest: AtomicUsize,
}

impl Scripted {
    /// Without encryption, on a free port.
    pub fn start() -> Self {
        Self::at(SocketAddr::from((Ipv4Addr::LOCALHOST, 0)))
    }

    pub fn at(address: SocketAddr) -> Self {
        Self::serve(address, None)
    }

    /// With encryption, and a certificate for 127.0.0.1 whose PEM text comes with it.
    pub fn encrypted() -> (Self, String) {
        let made = rcgen::generate_simple_self_signed(["127.0.0.1".to_owned()]).unwrap();
        let chain = vec![CertificateDer::from(made.cert.der().to_vec())];
        let key = PrivateKeyDer::try_from(made.signing_key.serialize_der()).unwrap();
        let provider = Arc::new(rustls::crypto::ring::default_provider());
        let config = rustls::ServerConfig::builder_with_provider(provider)
            .with_safe_default_protocol_versions()
            .unwrap()
            .with_no_client_auth()
            .with_single_cert(chain, key)
            .unwrap();
        let address = SocketAddr::from((Ipv4Addr::LOCALHOST, 0));
        (
            Self::serve(address, Some(Arc::new(config))),
            made.cert.pem(),
        )
    }

    fn serve(address: SocketAddr, tls: Option<Arc<rustls::ServerConfig>>) -> Self {
        let listener = TcpListener::bind(address).unwrap();
        let shared = Arc::new(Shared {
            address: listener.local_addr().unwrap(),
            scheme: if tls.is_some() { "https" } else { "http" },
            reply: Mutex::new(html(500, "nobody has said yet what to say")),
            heads: Mutex::default(),
            busy: AtomicUsize::new(0),
            busiest: AtomicUsize::new(0),
        });
        let server = Self {
            shared: shared.clone(),
        };
        std::thread::spawn(move || {
            for stream in listener.incoming() {
                let (shared, tls) = (shared.clone(), tls.clone());
                std::thread::spawn(move || {
                    let Ok(stream) = stream else { return };
                    // An error is a client that has gone, which is what many of these tests are about.
                    let _ = match tls {
                        None => shared.answer(stream),
                        Some(tls) => {
                            let session = rustls::ServerConnection::new(tls).unwrap();
                            shared.answer(rustls::StreamOwned::new(session, stream))
                        }
                    };
                });
            }
        });
        server
    }

    /// From now on.
    pub fn says(&self, reply: Reply) {
        *self.shared.reply.lock().unwrap() = reply;
    }

    pub fn url(&self) -> String {
        format!("{}://{}", self.shared.scheme, self.shared.address)
    }

    pub fn port(&self) -> u16 {
        self.shared.address.port()
    }

    /// How many requests have come since it was last asked this.
    pub fn asked(&self) -> usize {
        std::mem::take(&mut *self.shared.heads.lock().unwrap()).len()
    }

    /// The heads of the requests that have come.
    pub fn heads(&self) -> Vec<String> {
        self.shared.heads.lock().unwrap().clone()
    }

    /// The most requests that were being answered at the same time.
    pub fn busiest(&self) -> usize {
        self.shared.busiest.load(Ordering::SeqCst)
    }
}

impl Shared {
    fn answer(&self, mut stream: impl Read + Write) -> std::io::Result<()> {
        let head = head(&mut stream)?;
        self.heads.lock().unwrap().push(head);
        let busy = self.busy.fetch_add(1, Ordering::SeqCst) + 1;
        self.busiest.fetch_max(busy, Ordering::SeqCst);
        let reply = self.reply.lock().unwrap().clone();
        speak(&mut stream, reply, || {
            self.busy.fetch_sub(1, Ordering::SeqCst);
        })
    }
}

fn head(stream: &mut impl Read) -> std::io::Result<String> {
    let mut head = Vec::new();
    let mut byte = [0];
    while !head.ends_with(b"\r\n\r\n") {
        stream.read_exact(&mut byte)?;
        head.push(byte[0]);
    }
    Ok(String::from_utf8_lossy(&head).into_owned())
}

/// Says it; `done` is called before the last byte goes out, after which the client may ask anew.
fn speak(stream: &mut impl Write, reply: Reply, done: impl FnOnce()) -> std::io::Result<()> {
    const HEAD: &[u8] =
        b"HTTP/1.1 200 OK\r\ncontent-type: application/json\r\ncontent-length: 999999999\r\n\r\n";
    let every = |stream: &mut dyn Write, bytes: &[u8], pause: Duration| loop {
        stream.write_all(bytes)?;
        stream.flush()?;
        std::thread::sleep(pause);
    };
    let bytes = match reply {
        Reply::Bytes(bytes) => bytes,
        Reply::Together(barrier, bytes) => {
            barrier.wait();
            bytes
        }
        Reply::Later(pause, bytes) => {
            std::thread::sleep(pause);
            bytes
        }
        Reply::Drip => {
            done();
            stream.write_all(HEAD)?;
            return every(stream, b" ", Duration::from_millis(5));
        }
        Reply::Endless => {
            done();
            stream.write_all(HEAD)?;
            return every(stream, &vec![b' '; 65536], Duration::ZERO);
        }
        Reply::Silent => {
            done();
            std::thread::sleep(Duration::from_secs(2));
            return Err(ErrorKind::TimedOut.into());
        }
    };
    done();
    stream.write_all(&bytes)?;
    stream.flush()
}

/// An address that takes no more connections: what knocks there waits. It does so as long as this is held.
pub struct Hanging {
    pub address: SocketAddr,
    _listener: tokio::net::TcpListener,
    _waiting: Vec<TcpStream>,
}

impl Hanging {
    /// At a port of 127.0.0.2, which is this machine too; 0 is a free one. Needs a runtime around it.
    pub fn at(port: u16) -> Self {
        let address = SocketAddr::from(([127, 0, 0, 2], port));
        let socket = tokio::net::TcpSocket::new_v4().unwrap();
        socket.bind(address).unwrap();
        let listener = socket.listen(1).unwrap();
        let address = listener.local_addr().unwrap();
        // Whoever is in the queue is connected; the first that is not has filled it.
        let knock = |_| TcpStream::connect_timeout(&address, Duration::from_millis(50)).ok();
        let waiting = (0..16).map_while(knock).collect();
        Self {
            address,
            _listener: listener,
            _waiting: waiting,
        }
    }
}
