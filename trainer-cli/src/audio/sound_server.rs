//! The sound server of Linux and similar systems, with PulseAudio's native protocol, which PipeWire speaks too.
//!
//! One thread reads the server's messages and answers each request for samples. The messages are those of the
//! `pulseaudio` crate; the loop is our own, because underruns, an ended stream and a lost server must be reported.

use std::io::Cursor;
use std::time::{Duration, SystemTime};

use fretlib::sound::SampleRate;
use pulseaudio::protocol::{
    self, ChannelMap, ChannelVolume, Command, CreatePlaybackStreamReply, LatencyParams,
    PlaybackLatency, PlaybackStreamParams, SampleSpec, TagStructReader, stream,
};

use super::server_connection::{BYTES, Connection, ServerThread, connect};
use super::speaker::{Fill, SharedStatus};

/// A stream that plays until it is dropped.
pub struct ServerStream {
    _thread: ServerThread,
}

/// The number of a request for the latency; other requests have lower ones.
const ABOUT_LATENCY: u32 = 100;

impl ServerStream {
    /// Connects to the server that the environment names, or the user's own.
    pub fn open(
        rate: SampleRate,
        latency: Duration,
        fill: Fill,
        status: SharedStatus,
    ) -> Result<ServerStream, String> {
        let (socket, connection) = connect()?;
        let mut player = connection
            .play(rate, latency, fill, status)
            .map_err(|error| format!("the sound server: {error}"))?;
        let thread = std::thread::spawn(move || player.run());
        Ok(ServerStream {
            _thread: ServerThread::new(socket, thread),
        })
    }
}

impl Connection {
    /// Opens a mono stream and fills its buffer for the first time.
    fn play(
        mut self,
        rate: SampleRate,
        latency: Duration,
        fill: Fill,
        status: SharedStatus,
    ) -> Result<Playing, String> {
        let bytes = |seconds: f64| (rate.sample_at(seconds) as usize * BYTES) as u32;
        let latency = latency.as_secs_f64();
        let reply: CreatePlaybackStreamReply =
            self.ask(Command::CreatePlaybackStream(PlaybackStreamParams {
                sample_spec: SampleSpec {
                    format: protocol::SampleFormat::Float32Le,
                    channels: 1,
                    sample_rate: rate.hertz(),
                },
                channel_map: ChannelMap::mono(),
                cvolume: Some(ChannelVolume::norm(1)),
                sink_name: Some(protocol::DEFAULT_SINK.to_owned()),
                buffer_attr: stream::BufferAttr {
                    target_length: bytes(latency),
                    // Playing begins when half of that has arrived.
                    pre_buffering: bytes(latency / 2.0),
                    minimum_request_length: bytes(latency / 4.0),
                    ..Default::default()
                },
                flags: stream::StreamFlags {
                    adjust_latency: true,
                    ..Default::default()
                },
                ..Default::default()
            }))?;
        // From here on the server sends messages on its own.
        self.socket
            .get_ref()
            .set_read_timeout(None)
            .map_err(|error| error.to_string())?;
        let mut playing = Playing {
            connection: self,
            channel: reply.channel,
            rate,
            fill,
            status,
            samples: Vec::new(),
            bytes: Vec::new(),
            has_begun: false,
            asks: false,
        };
        playing.write(reply.requested_bytes as usize)?;
        playing.ask_for_latency()?;
        Ok(playing)
    }
}

/// A stream that plays.
struct Playing {
    connection: Connection,
    channel: u32,
    rate: SampleRate,
    fill: Fill,
    status: SharedStatus,
    samples: Vec<f32>,
    bytes: Vec<u8>,
    has_begun: bool,
    /// Whether a request for the latency is pending.
    asks: bool,
}

impl Playing {
    fn run(&mut self) {
        if let Err(reason) = self.listen() {
            self.status.fail(reason);
        }
    }

    /// Answers the server until the connection ends.
    fn listen(&mut self) -> Result<(), String> {
        let mut message = Vec::new();
        loop {
            if self.connection.next_message(&mut message)? != u32::MAX {
                continue;
            }
            let mut body = Cursor::new(message.as_slice());
            if let Ok((number, command)) =
                Command::read_tag_prefixed(&mut body, self.connection.version)
            {
                self.answer(number, command, &mut body)?;
            }
        }
    }

    fn answer(
        &mut self,
        number: u32,
        command: Command,
        body: &mut Cursor<&[u8]>,
    ) -> Result<(), String> {
        match command {
            Command::Request(request) if request.channel == self.channel => {
                self.write(request.length as usize)?;
                if !self.asks {
                    self.ask_for_latency()?;
                }
            }
            Command::Started(_) => self.has_begun = true,
            Command::Underflow(_) if self.has_begun => {
                self.status.update(|status| status.underruns += 1)
            }
            Command::Reply if number == ABOUT_LATENCY => {
                self.asks = false;
                let mut reader = TagStructReader::new(body, self.connection.version);
                if let Ok(latency) = reader.read::<PlaybackLatency>() {
                    self.take_in(latency);
                }
            }
            Command::PlaybackStreamKilled(_) => return Err("the sound device has gone away".into()),
            Command::Error(error) => return Err(format!("the sound server: {error}")),
            _ => {}
        }
        Ok(())
    }

    fn take_in(&self, latency: PlaybackLatency) {
        let in_sink = Duration::from_micros(latency.sink_usec);
        let offset = |bytes: i64| bytes.max(0) as u64 / BYTES as u64;
        let (read, written) = (offset(latency.read_offset), offset(latency.write_offset));
        let in_buffer = Duration::from_secs_f64(self.rate.seconds(written.saturating_sub(read)));
        let heard = read.saturating_sub(self.rate.sample_at(in_sink.as_secs_f64()));
        self.status.heard(heard, in_buffer + in_sink);
    }

    fn write(&mut self, length: usize) -> Result<(), String> {
        let count = length / BYTES;
        if count == 0 {
            return Ok(());
        }
        self.samples.resize(count, 0.0);
        (self.fill)(&mut self.samples);
        self.bytes.clear();
        self.bytes
            .extend(self.samples.iter().flat_map(|sample| sample.to_le_bytes()));
        protocol::write_memblock(
            self.connection.socket.get_mut(),
            self.channel,
            &self.bytes,
            0,
        )
        .map_err(|_| "the sound server has gone away".to_owned())?;
        self.status.wrote(count);
        Ok(())
    }

    fn ask_for_latency(&mut self) -> Result<(), String> {
        self.asks = true;
        let question = Command::GetPlaybackLatency(LatencyParams {
            channel: self.channel,
            now: SystemTime::now(),
        });
        let socket = self.connection.socket.get_mut();
        protocol::write_command_message(socket, ABOUT_LATENCY, &question, self.connection.version)
            .map_err(|_| "the sound server has gone away".to_owned())
    }
}
