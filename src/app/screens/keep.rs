//! What is on the table, kept as files: a page to print, its plots as pictures and as numbers; or a
//! plot's numbers on the clipboard.
//!
//! Owns where they are written and the news of it. Refuses how they look (the report room), and to
//! write anywhere but there and into the folder of the driver's data.

use super::ui;
use crate::app::background::Work;
use crate::app::data::DataPath;
use crate::report::page::{Block, Page};
use crate::report::{Document, html, plot_csv, png_file, svg_file};
use arboard::Clipboard;
use bevy::ecs::system::SystemParam;
use bevy::prelude::*;
use bevy_egui::EguiContexts;
use std::fs;
use std::path::{Path, PathBuf};

/// Where kept pages go, in the folder of the driver's data.
const FOLDER: &str = "to-print";

/// Keeping under way, and what there is to tell of it.
#[derive(Resource, Default)]
pub struct Keeping {
    work: Work<Result<(PathBuf, usize), String>>,
    news: Option<String>,
    copying: Work<Result<Clipboard, String>>,
    /// On some systems what was copied is gone with whoever copied it: it is kept.
    clipboard: Option<Clipboard>,
}

/// What it takes to keep a page.
#[derive(SystemParam)]
pub struct Keeper<'w> {
    data: Option<Res<'w, DataPath>>,
    keeping: ResMut<'w, Keeping>,
}

pub(super) fn plugin(app: &mut App) {
    app.init_resource::<Keeping>().add_systems(Update, tell_news);
}

impl Keeper<'_> {
    /// Writes a page beside the frames: `NAME.html`, and for each plot `NAME-1.svg`, `.png` and `.csv`.
    pub fn keep(&mut self, name: &str, page: &Page) {
        let Some(data) = &self.data else { return };
        let document = Document {
            title: name.to_owned(),
            demo: data.is_demo(),
            pages: vec![(name.to_owned(), page.clone())],
            ..Document::default()
        };
        let folder = data.path.join(FOLDER);
        let stem = name.to_lowercase().replace(' ', "-");
        self.keeping.news = None;
        self.keeping.work.start("keep-page", move || write(&folder, &stem, &document));
    }
}

fn write(folder: &Path, stem: &str, document: &Document) -> Result<(PathBuf, usize), String> {
    let put = |file: PathBuf, bytes: Vec<u8>| match fs::write(&file, bytes) {
        Ok(()) => Ok(file),
        Err(error) => Err(format!("{} can't be written: {error}", file.display())),
    };
    fs::create_dir_all(folder)
        .map_err(|error| format!("{} can't be made: {error}", folder.display()))?;
    let mut written = 0;
    let plots = document.pages.iter().flat_map(|(_, page)| &page.blocks).filter_map(|block| {
        let Block::Plot(plot) = block else { return None };
        Some(plot)
    });
    for (i, plot) in plots.enumerate() {
        put(folder.join(format!("{stem}-{}.svg", i + 1)), svg_file(plot).into_bytes())?;
        put(folder.join(format!("{stem}-{}.csv", i + 1)), plot_csv(plot).into_bytes())?;
        let png = png_file(plot).map_err(|error| error.to_string())?;
        put(folder.join(format!("{stem}-{}.png", i + 1)), png)?;
        written += 1;
    }
    Ok((put(folder.join(format!("{stem}.html")), html(document).into_bytes())?, written))
}

/// Puts a text on the clipboard, through the connection there is or a new one.
fn copy(clipboard: Option<Clipboard>, text: String) -> Result<Clipboard, String> {
    let mut clipboard = match clipboard {
        Some(clipboard) => clipboard,
        None => Clipboard::new().map_err(|error| error.to_string())?,
    };
    clipboard.set_text(text).map_err(|error| error.to_string())?;
    Ok(clipboard)
}

/// Says where it was written, until another room is entered.
fn tell_news(
    mut contexts: EguiContexts,
    mut keeping: ResMut<Keeping>,
    screen: Res<State<crate::app::Screen>>,
) {
    let keeping = keeping.bypass_change_detection();
    if screen.is_changed() {
        keeping.news = None;
    }
    if let Some(copied) = keeping.copying.answer() {
        keeping.news = Some(match copied {
            Ok(clipboard) => {
                keeping.clipboard = Some(clipboard);
                "The plot's numbers are on the clipboard, as CSV.".to_owned()
            }
            Err(why) => format!("Nothing is on the clipboard: {why}"),
        });
    }
    if let Some(kept) = keeping.work.answer() {
        keeping.news = Some(match kept {
            Ok((file, plots)) => {
                let beside = match plots {
                    0 => "",
                    _ => " Its plots lie beside it as pictures (SVG, PNG) and numbers (CSV).",
                };
                format!("Written to {}: open it in a browser to print it.{beside}", file.display())
            }
            Err(why) => why,
        });
    }
    if let Ok(ctx) = contexts.ctx_mut() {
        if let Some(text) = ui::take_copied(ctx) {
            let clipboard = keeping.clipboard.take();
            keeping.copying.start("copy", move || copy(clipboard, text));
        }
        ui::mark_news(ctx, keeping.news.clone());
    }
}
