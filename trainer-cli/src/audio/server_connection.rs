//! A connection to the sound server of Linux and similar systems, and its first words with it.

use std::ffi::CString;
use std::io::{BufReader, Read};
use std::net::Shutdown;
use std::os::unix::net::UnixStream;
use std::thread::JoinHandle;
use std::time::Duration;

use pulseaudio::protocol::{
    self, AuthParams, AuthReply, Command, CommandReply, Prop, Props, SetClientNameReply,
};

/// How long the server may take to answer when a stream is opened.
const PATIENCE: Duration = Duration::from_secs(2);
/// The longest message that is read, in bytes; those about streams have a few hundred.
const LONGEST_MESSAGE: u32 = 1 << 20;
/// The length of a cookie in the protocol, in bytes.
const COOKIE_LENGTH: usize = 256;
/// The bytes of a sample.
pub const BYTES: usize = size_of::<f32>();

/// Connects to the server that the environment names, or the user's own. The socket ends the connection when it is shut.
pub fn connect() -> Result<(UnixStream, Connection), String> {
    let path = pulseaudio::socket_path_from_env().ok_or("no sound server is running")?;
    let socket = UnixStream::connect(&path).map_err(|error| {
        format!(
            "the sound server at `{}` does not answer: {error}",
            path.display()
        )
    })?;
    let connection =
        Connection::new(&socket).map_err(|error| format!("the sound server: {error}"))?;
    Ok((socket, connection))
}

/// The thread that answers the server over a connection; both end when this is dropped.
pub struct ServerThread {
    socket: UnixStream,
    thread: Option<JoinHandle<()>>,
}

impl ServerThread {
    pub fn new(socket: UnixStream, thread: JoinHandle<()>) -> ServerThread {
        ServerThread {
            socket,
            thread: Some(thread),
        }
    }
}

impl Drop for ServerThread {
    fn drop(&mut self) {
        // The thread waits for the server; the end of the connection wakes it.
        let _ = self.socket.shutdown(Shutdown::Both);
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// A connection after the handshake.
pub struct Connection {
    pub socket: BufReader<UnixStream>,
    pub version: u16,
}

impl Connection {
    fn new(socket: &UnixStream) -> Result<Connection, String> {
        let socket = socket.try_clone().map_err(|error| error.to_string())?;
        socket
            .set_read_timeout(Some(PATIENCE))
            .map_err(|error| error.to_string())?;
        socket
            .set_write_timeout(Some(PATIENCE))
            .map_err(|error| error.to_string())?;
        let mut connection = Connection {
            socket: BufReader::new(socket),
            version: protocol::MAX_VERSION,
        };
        let cookie = pulseaudio::cookie_path_from_env().and_then(|path| std::fs::read(path).ok());
        // Even a server without authentication expects a cookie of the right length.
        let cookie = cookie.unwrap_or_else(|| vec![0; COOKIE_LENGTH]);
        let auth: AuthReply = connection.ask(Command::Auth(AuthParams {
            version: protocol::MAX_VERSION,
            supports_shm: false,
            supports_memfd: false,
            cookie,
        }))?;
        connection.version = auth.version.min(protocol::MAX_VERSION);
        let mut props = Props::new();
        let name = |text: &str| CString::new(text).unwrap_or_default();
        props.set(Prop::ApplicationName, name("neckline"));
        let _: SetClientNameReply = connection.ask(Command::SetClientName(props))?;
        Ok(connection)
    }

    /// Reads the next message into `message`, whole, so that an unknown one can be skipped; gives its channel.
    pub fn next_message(&mut self, message: &mut Vec<u8>) -> Result<u32, String> {
        let gone = "the sound server has gone away";
        let head = protocol::read_descriptor(&mut self.socket).map_err(|_| gone.to_owned())?;
        if head.length > LONGEST_MESSAGE {
            return Err("the sound server says more than can be".into());
        }
        message.resize(head.length as usize, 0);
        self.socket
            .read_exact(message)
            .map_err(|_| gone.to_owned())?;
        Ok(head.channel)
    }

    pub fn ask<R: CommandReply>(&mut self, command: Command) -> Result<R, String> {
        let said = |error: protocol::ProtocolError| error.to_string();
        protocol::write_command_message(self.socket.get_mut(), 0, &command, self.version)
            .map_err(said)?;
        let (_, reply) =
            protocol::read_reply_message(&mut self.socket, self.version).map_err(said)?;
        Ok(reply)
    }
}
