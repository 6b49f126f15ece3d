//! Help: the lamps, a run, the keys, the drills, the words of the trade and the cautions.
//!
//! Owns the page. Refuses keys of its own: the window says which it has, so that the two never differ.

use super::page::{Block, Page, Table};
use crate::trial::Drill;

/// A key and what it does, as the window has it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeyHelp {
    /// The key's name.
    pub key: String,
    /// What it does.
    pub does: String,
}

/// What every lamp means, top to bottom.
const LAMPS: [(&str, &str); 5] = [
    ("Pre-stage", "Your front tyre is a few inches before the start line."),
    ("Stage", "Your front tyre stands on the start line. Stop here."),
    ("Ambers", "They light one after the other, half a second apart. Leave on the last."),
    ("Green", "Go. Whoever waits for it leaves half a second late."),
    ("Red", "The car left its beam before green. The run still counts."),
];

/// How a run goes.
const A_RUN: [&str; 6] = [
    "Roll in gently until the pre-stage lamp lights, and stop.",
    "Wait until the other lane has lit its pre-stage lamp too. That is courtesy, and some classes demand it.",
    "Roll on a few inches until the stage lamp lights, and stand still.",
    "When both cars stand, the ambers come by themselves within two seconds.",
    "Leave on the last amber. The car needs time to roll out of the beam; done right, it does just after green.",
    "Read the verdict: your part, your car's part, and what is left after green.",
];

/// The words of the trade, in the order they are met.
const WORDS: [(&str, &str); 18] = [
    ("tree", "the pole of lamps at the start line"),
    ("pre-stage, stage", "the two light beams your front tyre breaks as you roll in"),
    ("deep", "rolled so far that the pre-stage lamp is out again: quicker light, slower run"),
    ("guard beam", "a beam behind the line that catches who rolls too far"),
    ("rollout", "how far the tyre rolls before it lets go of the stage beam"),
    ("light, R/T", "reaction time: from green to the car leaving the beam; .000 is perfect"),
    ("red light", "a light below .000: you left too soon"),
    ("driver part", "from the last amber to your foot or hand"),
    ("car part", "from there to the tyre leaving the beam"),
    ("react", "leave because you see the last amber"),
    ("time it", "leave by the rhythm of the ambers"),
    ("cold", "without launches just before, as at a track"),
    ("60-foot", "the time over the first 60 feet: how strong the launch was"),
    ("ET", "elapsed time from the start line to the finish; your reaction is not in it"),
    ("dial-in", "the ET you say you will run, written on the window"),
    ("breakout", "quicker than your dial-in: usually a loss"),
    ("package", "light plus what you ran over your dial-in; the smaller one wins"),
    ("delay box", "a timer that launches for you after an earlier amber, where it is allowed"),
];

/// All drills, in the order they take turns.
const DRILLS: [Drill; 7] = [
    Drill::RollUp,
    Drill::TreeOnly,
    Drill::ReactOrTime,
    Drill::GuessTest,
    Drill::OtherLaneFirst,
    Drill::HoldAnAim,
    Drill::TrackNight,
];

/// The cautions: first where to practise, then who has the last word, then flashing lights.
pub const CAUTIONS: [&str; 3] = [
    "Practise at home, or in your car at a sanctioned track. Never on the road.",
    "At the track the tech officials, that track's rules and licensed practice prevail over anything \
     shown here.",
    "Flashing lights: lamps light and go out suddenly. If flashing light can harm you, do not use this \
     program.",
];

/// A drill's name.
pub fn drill_name(drill: Drill) -> &'static str {
    match drill {
        Drill::RollUp => "Roll-up",
        Drill::TreeOnly => "Tree only",
        Drill::ReactOrTime => "React / time it",
        Drill::GuessTest => "Guess test",
        Drill::OtherLaneFirst => "Other lane first",
        Drill::HoldAnAim => "Hold an aim",
        Drill::TrackNight => "Track night",
    }
}

/// What a drill is for, in one sentence.
pub fn drill_sentence(drill: Drill) -> &'static str {
    match drill {
        Drill::RollUp => {
            "Whole starts beside a stranger: creep in, stage, leave on the last amber."
        }
        Drill::TreeOnly => "Launches only, already staged: leave on the last amber.",
        Drill::ReactOrTime => {
            "Ten by reaction, ten by the rhythm of the ambers, in turns: what is better for you?"
        }
        Drill::GuessTest => {
            "Now and then the last amber does not come, and then you stay: who leaves has guessed."
        }
        Drill::OtherLaneFirst => {
            "A handicap start: the other side of the tree begins first, and you watch your own."
        }
        Drill::HoldAnAim => {
            "Say where the launch is to fall, and see after each how many milliseconds it was off."
        }
        Drill::TrackNight => {
            "Five launches, minutes apart, only the lamps; the slips come after the last."
        }
    }
}

/// The page; `keys` as the window has them, in its order.
pub fn help_page(keys: &[KeyHelp]) -> Page {
    let mut page = Page::new("Roll in, stand on the line, leave on the last amber.");
    CAUTIONS.iter().for_each(|caution| {
        page.caution(*caution);
    });
    page.heading("The lamps, top to bottom");
    let mut lamps = Table::new("", &["lamp", "what it means"]);
    LAMPS.iter().for_each(|(lamp, means)| lamps.push([*lamp, *means]));
    page.push(Block::Table(lamps));
    page.heading("How a run goes");
    page.push(Block::Points(A_RUN.map(str::to_owned).to_vec()));
    if !keys.is_empty() {
        page.heading("Keys");
        let mut table = Table::new("", &["key", "what it does"]);
        keys.iter().for_each(|key| table.push([key.key.as_str(), key.does.as_str()]));
        page.push(Block::Table(table));
    }
    page.heading("The drills");
    let mut drills = Table::new("", &["drill", "what it is for"]);
    DRILLS.iter().for_each(|drill| drills.push([drill_name(*drill), drill_sentence(*drill)]));
    page.push(Block::Table(drills));
    page.heading("The words");
    let mut words = Table::new("", &["word", "what it means"]);
    WORDS.iter().for_each(|(word, means)| words.push([*word, *means]));
    page.push(Block::Table(words));
    page
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::page_text;

    fn keys() -> Vec<KeyHelp> {
        vec![KeyHelp { key: "Space".to_owned(), does: "launch".to_owned() }]
    }

    #[test]
    fn the_cautions_come_before_anything_else() {
        let page = help_page(&keys());
        let cautions: Vec<&str> = page
            .blocks
            .iter()
            .take_while(|block| matches!(block, Block::Caution(_)))
            .filter_map(
                |block| if let Block::Caution(text) = block { Some(text.as_str()) } else { None },
            )
            .collect();
        assert_eq!(cautions, CAUTIONS);
        let all = cautions.join(" ");
        for word in
            ["Never on the road", "sanctioned track", "tech officials", "licensed", "Flashing"]
        {
            assert!(all.contains(word), "{word}");
        }
    }

    #[test]
    fn keys_are_the_windows_and_every_drill_is_one_sentence() {
        let words = page_text(&help_page(&keys()));
        assert!(words.contains("Space") && words.contains("Track night"), "{words}");
        assert!(!page_text(&help_page(&[])).contains("Keys"));
        for drill in DRILLS {
            let sentence = drill_sentence(drill);
            assert!(sentence.len() < 100 && !sentence.trim_end_matches(['.', '?']).contains('.'));
        }
    }
}
