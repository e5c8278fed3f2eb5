//! Writes the manual pages and the completions of shells into the folder that is named: `man1/`, `bash`, `zsh` and `fish`,
//! each file under the name that it has where it is installed. They are made of the command line as the program knows it.

use clap_complete::{Shell, generate_to};
use std::fs::{OpenOptions, create_dir_all, rename};
use std::io::Write;
use std::path::Path;

/// What the manual page says beside the commands.
const MORE: &str = "\
.SH FILES
.TP
/etc/graftwarden/graftwarden.toml
The config, where none is named and none lies in the folder one is in.
.TP
/var/lib/graftwarden
The program's own memory, as the service has it.
.TP
/srv/graftwarden
A good place for the register, the field records, the temperature files and the pages.
.TP
/usr/share/doc/graftwarden
How to set the service up, all keys of the config, and the formats of all files.
.SH \"EXIT STATUS\"
0 well, 64 the command line, 65 what is in a file, 69 something is not there, 75 try later, 78 the config.
";

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = std::env::args_os().nth(1).ok_or("name a folder")?;
    let folder = Path::new(&folder);
    let command = graftwarden::cli::command();
    let pages = folder.join("man1");
    create_dir_all(&pages)?;
    clap_mangen::generate_to(command.clone(), &pages)?;
    let first = pages.join("graftwarden.1");
    OpenOptions::new()
        .append(true)
        .open(first)?
        .write_all(MORE.as_bytes())?;
    for shell in [Shell::Bash, Shell::Zsh, Shell::Fish] {
        let out = folder.join(shell.to_string());
        create_dir_all(&out)?;
        generate_to(shell, &mut command.clone(), "graftwarden", &out)?;
    }
    // Debian's completions for bash are found by the name of the command alone.
    rename(
        folder.join("bash/graftwarden.bash"),
        folder.join("bash/graftwarden"),
    )?;
    Ok(())
}
