//! Recording from the sound server of Linux and similar systems.

use std::io::Cursor;
use std::sync::mpsc::Sender;

use fretlib::hearing::RecordingRate;
use pulseaudio::protocol::{
    self, ChannelMap, Command, CreateRecordStreamReply, RecordStreamParams, SampleSpec, stream,
};

use super::microphone::Piece;
use super::server_connection::{BYTES, Connection, ServerThread, connect};

/// A stream that records until it is dropped.
pub struct InputDevice {
    _thread: ServerThread,
}

/// The rate that is asked for, the usual one of sound servers.
const RATE: RecordingRate = match RecordingRate::new(48_000) {
    Ok(rate) => rate,
    Err(_) => unreachable!(),
};
/// Samples of a piece: 10 ms.
const PIECE: u32 = RATE.get() / 100;

impl InputDevice {
    /// Records from the server's default source, one channel.
    pub fn open(pieces: Sender<Piece>) -> Result<(InputDevice, RecordingRate), String> {
        let (socket, connection) = connect()?;
        let stream = connection.record()?;
        let thread = std::thread::spawn(move || {
            if let Err(reason) = stream.read(&pieces) {
                // Nobody listens any more when the stream was dropped.
                let _ = pieces.send(Err(reason));
            }
        });
        let device = InputDevice {
            _thread: ServerThread::new(socket, thread),
        };
        Ok((device, RATE))
    }
}

impl Connection {
    fn record(mut self) -> Result<RecordStream, String> {
        let params = RecordStreamParams {
            sample_spec: SampleSpec {
                format: protocol::SampleFormat::Float32Le,
                channels: 1,
                sample_rate: RATE.get(),
            },
            channel_map: ChannelMap::mono(),
            source_name: Some(protocol::DEFAULT_SOURCE.to_owned()),
            buffer_attr: stream::BufferAttr {
                fragment_size: PIECE * BYTES as u32,
                ..Default::default()
            },
            flags: stream::StreamFlags {
                adjust_latency: true,
                ..Default::default()
            },
            ..Default::default()
        };
        let reply: CreateRecordStreamReply = self
            .ask(Command::CreateRecordStream(params))
            .map_err(|error| format!("the sound server has no microphone: {error}"))?;
        self.socket
            .get_ref()
            .set_read_timeout(None)
            .map_err(|error| error.to_string())?;
        Ok(RecordStream {
            connection: self,
            channel: reply.channel,
        })
    }
}

/// A stream that records.
struct RecordStream {
    connection: Connection,
    channel: u32,
}

impl RecordStream {
    /// Hands over what the server sends, until the connection ends or nobody takes it.
    fn read(mut self, pieces: &Sender<Piece>) -> Result<(), String> {
        let mut message = Vec::new();
        loop {
            if self.connection.next_message(&mut message)? == self.channel {
                let samples = message.chunks_exact(BYTES).map(|bytes| {
                    let mut sample = [0; BYTES];
                    sample.copy_from_slice(bytes);
                    f32::from_le_bytes(sample)
                });
                if pieces.send(Ok(samples.collect())).is_err() {
                    return Ok(());
                }
                continue;
            }
            let mut body = Cursor::new(message.as_slice());
            match Command::read_tag_prefixed(&mut body, self.connection.version) {
                Ok((_, Command::RecordStreamKilled(_))) => {
                    return Err("the microphone has gone away".into());
                }
                Ok((_, Command::Error(error))) => {
                    return Err(format!("the sound server: {error}"));
                }
                // Other messages are about nothing that is asked for here.
                _ => {}
            }
        }
    }
}
