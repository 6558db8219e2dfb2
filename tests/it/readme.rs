//! Every command in the README prints what the README says.

use tests::neckline;

/// The words of a command line; double quotes keep spaces together.
fn words(command: &str) -> Vec<String> {
    let mut words = Vec::new();
    for (index, piece) in command.split('"').enumerate() {
        if index % 2 == 1 {
            words.push(piece.to_owned());
        } else {
            words.extend(piece.split_whitespace().map(str::to_owned));
        }
    }
    words
}

#[test]
fn examples_are_real_output() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let readme = std::fs::read_to_string(root.join("README.md")).unwrap();
    let mut checked = 0;
    for block in readme.split("```console\n").skip(1) {
        let block = block.split("```").next().unwrap();
        for example in block.split("$ ").skip(1) {
            let (line, expected) = example.split_once('\n').unwrap();
            // `printf '…' | ` before and ` | head -n N` after are the only things of a shell that the examples use.
            let (stdin, line) = match line.strip_prefix("printf '") {
                Some(rest) => rest.split_once("' | ").unwrap(),
                None => ("", line),
            };
            let (command, lines) = match line.split_once(" | head -n ") {
                Some((command, lines)) => (command, lines.trim().parse().unwrap()),
                None => (line, usize::MAX),
            };
            let stdin = stdin.replace("\\n", "\n");
            let command = command.strip_prefix("neckline ").unwrap();
            let args = words(command);
            let args: Vec<&str> = args.iter().map(String::as_str).collect();
            let run = neckline(&args, stdin.as_bytes());
            let shown: Vec<&str> = run.stdout.lines().take(lines).collect();
            assert_eq!(
                shown.join("\n").trim_end(),
                expected.trim_end(),
                "neckline {command}\n{}",
                run.stderr
            );
            checked += 1;
        }
    }
    assert!(checked >= 3, "the README shows too little");
}
