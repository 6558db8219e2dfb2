//! The files of a sheet: one document, or a picture a page.

use std::path::{Path, PathBuf};

use fretlib::sheet::{Page, Paper, Sheet, html_in_pieces, svg};

#[cfg(feature = "pdf")]
use crate::export::pdf;
use crate::export::png;
use crate::failure::Failure;
use crate::output::{Existing, refuse_existing, write_file, write_file_with};

/// For printing with: a laser printer shows no more.
const DOTS_PER_INCH: f64 = 200.0;

/// A format of sheets.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
#[allow(missing_docs)]
pub enum SheetFormat {
    Pdf,
    Svg,
    Png,
    Html,
}

impl SheetFormat {
    /// The format that the ending of a name stands for.
    pub fn of(path: &Path) -> Result<SheetFormat, Failure> {
        let extension = path.extension().and_then(|it| it.to_str()).unwrap_or("");
        match extension.to_ascii_lowercase().as_str() {
            "pdf" => SheetFormat::Pdf.if_built(),
            "svg" => Ok(SheetFormat::Svg),
            "png" => Ok(SheetFormat::Png),
            "html" | "htm" => Ok(SheetFormat::Html),
            _ => Err(Failure::usage(
                format!("`{}` names no format that can be written", path.display()),
                "end the name with .pdf, .svg, .png or .html",
            )),
        }
    }

    /// The format, unless this program was built without it.
    pub fn if_built(self) -> Result<SheetFormat, Failure> {
        if self == SheetFormat::Pdf && cfg!(not(feature = "pdf")) {
            return Err(Failure::could_not(
                "this neckline was built without PDF",
                "print from a browser what `-o page.html` writes, or build it with the feature `pdf`, as it is by default",
            ));
        }
        Ok(self)
    }

    /// The ending of its files.
    pub const fn ending(self) -> &'static str {
        match self {
            SheetFormat::Pdf => "pdf",
            SheetFormat::Svg => "svg",
            SheetFormat::Png => "png",
            SheetFormat::Html => "html",
        }
    }
}

/// Writes pages; returns the files: one a page, numbered, where a file holds one page only. None is written when one is in
/// the way.
pub fn write_pages(
    pages: Vec<Page>,
    title: &str,
    format: SheetFormat,
    output: &Path,
    existing: Existing,
) -> Result<Vec<PathBuf>, Failure> {
    match format {
        #[cfg(not(feature = "pdf"))]
        SheetFormat::Pdf => SheetFormat::Pdf.if_built().map(|_| Vec::new()),
        #[cfg(feature = "pdf")]
        SheetFormat::Pdf => {
            let bytes = pdf(pages, title).map_err(drawing_failed)?;
            write_file(output, &bytes, existing)?;
            Ok(vec![output.to_owned()])
        }
        SheetFormat::Svg => write_each(&pages, output, existing, |page| {
            Ok(svg(page, title).into_bytes())
        }),
        SheetFormat::Png => write_each(&pages, output, existing, |page| {
            png(page, DOTS_PER_INCH).map_err(drawing_failed)
        }),
        SheetFormat::Html => Err(Failure::usage(
            "a page for a browser holds one tune",
            "end the name with .pdf, .svg or .png",
        )),
    }
}

/// Writes a sheet as one page for a browser.
pub fn write_html(
    sheet: &Sheet<'_>,
    paper: Paper,
    output: &Path,
    existing: Existing,
) -> Result<(), Failure> {
    write_file_with(output, existing, |out| {
        html_in_pieces(sheet, paper, |piece| out.write_all(piece.as_bytes()))
    })
}

fn drawing_failed(problem: String) -> Failure {
    Failure::could_not(
        format!("the sheet cannot be drawn: {problem}"),
        "try another format, or fewer `--parts`",
    )
}

fn write_each(
    pages: &[Page],
    output: &Path,
    existing: Existing,
    draw: impl Fn(&Page) -> Result<Vec<u8>, Failure>,
) -> Result<Vec<PathBuf>, Failure> {
    let paths: Vec<PathBuf> = match pages.len() {
        1 => vec![output.to_owned()],
        count => (1..=count).map(|it| numbered(output, it)).collect(),
    };
    let each: Vec<&Path> = paths.iter().map(PathBuf::as_path).collect();
    refuse_existing(&each, existing)?;
    for (page, path) in pages.iter().zip(&paths) {
        write_file(path, &draw(page)?, existing)?;
    }
    Ok(paths)
}

/// `tune.png` becomes `tune-2.png`.
fn numbered(path: &Path, number: usize) -> PathBuf {
    let mut name = path.file_stem().unwrap_or_default().to_os_string();
    name.push(format!("-{number}"));
    if let Some(extension) = path.extension() {
        name.push(".");
        name.push(extension);
    }
    path.with_file_name(name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn several_pages_get_numbers() {
        let cases = [
            ("tune.png", "tune-2.png"),
            ("a.b/tune.v1.svg", "a.b/tune.v1-2.svg"),
        ];
        for (path, expected) in cases {
            assert_eq!(numbered(Path::new(path), 2), Path::new(expected));
        }
    }
}
