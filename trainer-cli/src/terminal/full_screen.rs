//! The terminal in full-screen mode.

use std::io::{self, Stdout};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use ratatui::backend::CrosstermBackend;
use ratatui::crossterm::event::{
    DisableMouseCapture, EnableMouseCapture, Event, KeyCode, KeyModifiers, poll, read,
};
use ratatui::crossterm::terminal::{
    Clear, ClearType, EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode,
    enable_raw_mode, size,
};
use ratatui::crossterm::{cursor, execute};
use ratatui::layout::Rect;
use ratatui::{Frame, Terminal, TerminalOptions, Viewport};

/// The largest drawn part of a terminal. A terminal may claim 65,535 columns and rows, which is four thousand million
/// cells.
const LARGEST: (u16, u16) = (1000, 500);

/// The whole terminal, with single keys and clicks; it is restored however this ends.
pub struct FullScreen {
    terminal: Terminal<CrosstermBackend<Stdout>>,
    // Set by signals when the program is stopped and when it continues.
    stop: Arc<AtomicBool>,
    go_on: Arc<AtomicBool>,
}

/// What happens to a screen.
#[derive(Clone, Debug, PartialEq)]
pub enum ScreenEvent {
    /// A key, a click or another size.
    Input(Event),
    /// The program was stopped and continues.
    Resumed,
}

impl FullScreen {
    /// Takes the terminal.
    pub fn enter() -> io::Result<FullScreen> {
        let (stop, go_on) = (Arc::default(), Arc::default());
        give_back_on_signals()?;
        #[cfg(unix)]
        {
            use signal_hook::consts::{SIGCONT, SIGTSTP};
            signal_hook::flag::register(SIGTSTP, Arc::clone(&stop))?;
            signal_hook::flag::register(SIGCONT, Arc::clone(&go_on))?;
        }
        let before = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |panic| {
            give_back();
            before(panic);
        }));
        let entered = take().and_then(|()| blank());
        match entered {
            Ok(terminal) => Ok(FullScreen {
                terminal,
                stop,
                go_on,
            }),
            Err(error) => {
                give_back();
                Err(error)
            }
        }
    }

    /// Columns and rows.
    pub fn size(&self) -> io::Result<(u16, u16)> {
        area().map(|area| (area.width, area.height))
    }

    /// Draws a frame.
    pub fn draw(&mut self, render: impl FnOnce(&mut Frame)) -> io::Result<()> {
        self.terminal.draw(render).map(|_| ())
    }

    /// The next event within a time.
    ///
    /// On Ctrl-Z and the system's request to stop, the terminal is restored first and taken again afterwards.
    pub fn next_event(&mut self, within: Duration) -> io::Result<Option<ScreenEvent>> {
        let event = if poll(within)? { Some(read()?) } else { None };
        let is_ctrl_z = matches!(
            &event,
            Some(Event::Key(key))
                if key.code == KeyCode::Char('z') && key.modifiers.contains(KeyModifiers::CONTROL)
        );
        if self.stop.swap(false, Ordering::Relaxed) || (is_ctrl_z && cfg!(unix)) {
            give_back();
            #[cfg(unix)]
            signal_hook::low_level::emulate_default_handler(signal_hook::consts::SIGTSTP)?;
            self.go_on.store(true, Ordering::Relaxed);
        }
        if self.go_on.swap(false, Ordering::Relaxed) {
            // Other programs may have changed the terminal meanwhile.
            take()?;
            self.terminal = blank()?;
            return Ok(Some(ScreenEvent::Resumed));
        }
        if let Some(Event::Resize(..)) = event {
            self.terminal = blank()?;
            let (columns, rows) = self.size()?;
            return Ok(Some(ScreenEvent::Input(Event::Resize(columns, rows))));
        }
        Ok(event.map(ScreenEvent::Input))
    }
}

impl Drop for FullScreen {
    fn drop(&mut self) {
        give_back();
    }
}

/// The part of the terminal that is drawn on.
fn area() -> io::Result<Rect> {
    let (columns, rows) = size()?;
    Ok(Rect::new(0, 0, columns.min(LARGEST.0), rows.min(LARGEST.1)))
}

/// An empty terminal of its current size. Unlike clearing, this does not query the cursor, since not all terminals
/// answer.
fn blank() -> io::Result<Terminal<CrosstermBackend<Stdout>>> {
    execute!(io::stdout(), Clear(ClearType::All))?;
    let viewport = Viewport::Fixed(area()?);
    let backend = CrosstermBackend::new(io::stdout());
    Terminal::with_options(backend, TerminalOptions { viewport })
}

fn take() -> io::Result<()> {
    enable_raw_mode()?;
    execute!(io::stdout(), EnterAlternateScreen, EnableMouseCapture)
}

/// If the terminal refuses, nothing can be done.
fn give_back() {
    let _ = leave(&mut io::stdout());
    let _ = disable_raw_mode();
}

fn leave(terminal: &mut impl io::Write) -> io::Result<()> {
    execute!(
        terminal,
        DisableMouseCapture,
        LeaveAlternateScreen,
        cursor::Show
    )
}

/// Restores the terminal when the system asks the program to end; Ctrl-C is a key here.
///
/// A separate thread waits for that, because reading keys from a lost terminal may block for ever. Nothing is lost,
/// since answers are recorded at once.
fn give_back_on_signals() -> io::Result<()> {
    #[cfg(unix)]
    {
        use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM};
        let mut signals = signal_hook::iterator::Signals::new([SIGHUP, SIGINT, SIGTERM])?;
        std::thread::spawn(move || {
            if let Some(signal) = signals.forever().next() {
                // Standard output is locked by the drawing thread, so the terminal is opened by name.
                if let Ok(mut terminal) = std::fs::File::create("/dev/tty") {
                    let _ = leave(&mut terminal);
                }
                let _ = disable_raw_mode();
                let _ = signal_hook::low_level::emulate_default_handler(signal);
            }
        });
    }
    Ok(())
}
