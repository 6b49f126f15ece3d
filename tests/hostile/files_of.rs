//! Files of ten megabytes that look like ours and are none.

/// Bytes and what is wrong with them.
pub struct Heavy {
    pub what: &'static str,
    pub bytes: Vec<u8>,
}

const SIZE: usize = 10_000_000;

fn of(what: &'static str, head: &str, again: &str) -> Heavy {
    let count = (SIZE - head.len()) / again.len() + 1;
    Heavy { what, bytes: [head.as_bytes(), again.repeat(count).as_bytes()].concat() }
}

/// Histories.
pub fn heavy_histories() -> Vec<Heavy> {
    vec![
        of("one line", "", "x"),
        of("brackets", "", "["),
        of("zeros", "", "\0"),
        of("line ends", "", "\n"),
        of("short lines", "", "x\n"),
        of("openings in one line", "", "{\"sum\":\""),
        of("openings", "", "{\"sum\":\"00000000\",\"line\":"),
        of("sums that do not fit", "", "{\"sum\":\"00000000\",\"line\":{}}\n"),
        of("a line of deep brackets", "{\"sum\":\"00000000\",\"line\":", "["),
        of("newer lines", "", &sealed("{\"kind\":\"engine\",\"v\":9,\"id\":\"a\"}")),
        of("lines without a kind", "", &sealed("{\"id\":\"a\"}")),
        of(
            "one id again and again",
            "",
            &sealed(
                "{\"kind\":\"exclusion\",\"v\":1,\"id\":\"a\",\"saved_at\":\"\",\"trial\":\"\",\"excluded\":true,\"reason\":\"x\"}",
            ),
        ),
    ]
}

fn sealed(value: &str) -> String {
    format!("{{\"sum\":\"{:08x}\",\"line\":{value}}}\n", crc32fast::hash(value.as_bytes()))
}

/// Tables of slips.
pub fn heavy_slips() -> Vec<Heavy> {
    vec![
        of("a cell without end", "rt,et\n\"", "x"),
        of("columns", "rt", ",rt"),
        of("separators", "rt,et\n", ","),
        of("empty lines", "rt,et\n", "\n"),
        of("short lines", "rt,et\n", "x\n"),
        of("slips that cannot be", "rt,et\n", "9999999,-1\n"),
        of("notes without end", "rt,note\n.1,\"", "x\n"),
        of("quotes", "rt,et\n", "\""),
        of("zeros", "rt,et\n", "\0"),
    ]
}

/// Exports.
pub fn heavy_exports() -> Vec<Heavy> {
    let head = "{\"format\":\"lastamber-history\",\"version\":1,\"demo\":false,\"lines\":[";
    vec![
        of("brackets", "", "["),
        of("braces", "", "{\"a\":"),
        of("numbers for lines", head, "1,"),
        of("deep lines", head, "["),
        of("a text without end", "{\"format\":\"", "x"),
        of("escapes", "{\"format\":\"", "\\u0000"),
        of("a table without lines", "kind,line (JSON)\r\n", "x,y\r\n"),
        of("a table of one cell", "line (JSON)\r\n\"", "{"),
    ]
}

/// Columns of times.
pub fn heavy_times() -> Vec<Heavy> {
    vec![
        of("a number without end", "driver\n", "1"),
        of("columns", "driver", ",x"),
        of("line ends", "driver\n", "\n"),
        of("quotes", "driver\n", "\""),
        of("small numbers", "driver\n", "1e-300\n"),
        of("the same number", "driver\n", "0.2\n"),
    ]
}
