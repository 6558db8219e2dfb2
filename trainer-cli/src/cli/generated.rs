//! Files about the command line: completions for shells, and manual pages.

use std::io;

use clap::Command;
use clap_complete::Shell;

/// Print the completions of a shell, or a manual page.
#[derive(Debug, clap::Args)]
pub struct GenerateArgs {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, clap::Subcommand)]
enum What {
    /// Print the completions of a shell
    Completions {
        /// The shell
        shell: Shell,
    },
    /// Print a manual page in roff
    Manual {
        /// The command it is about [default: the program]
        command: Option<String>,
    },
}

/// The text to print, or an error when there is no such command.
pub fn generated(args: &GenerateArgs, mut program: Command) -> Result<String, clap::Error> {
    let name = program.get_name().to_owned();
    let mut bytes = Vec::new();
    match &args.what {
        What::Completions { shell } => {
            clap_complete::generate(*shell, &mut program, name, &mut bytes);
        }
        What::Manual { command: None } => manual(program, &mut bytes)?,
        What::Manual {
            command: Some(wanted),
        } => {
            program.build();
            let found = program.find_subcommand(wanted).cloned();
            let found = found.ok_or_else(|| {
                let problem = format!("there is no command `{wanted}`\n");
                program.error(clap::error::ErrorKind::InvalidValue, problem)
            })?;
            manual(found.display_name(format!("{name}-{wanted}")), &mut bytes)?;
        }
    }
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

fn manual(command: Command, bytes: &mut Vec<u8>) -> io::Result<()> {
    clap_mangen::Man::new(command).render(bytes)
}
