#!/usr/bin/env python3
"""Every change cargo-mutants would make, built into one program and switched on one at a time.

A build for each of some thousand changes takes days. Here each function gets a copy of its body for each
change to it, chosen by the environment variable MUTANT; what does not compile is left out and counted.

    python3 .ci/mutants.py WORK make ROOM[:SHARD/OF]...   lists, writes, builds, asks which tests reach what
    python3 .ci/mutants.py WORK run  ROOM...              runs, on each change, the tests that reach it
    python3 .ci/mutants.py WORK left                      builds and runs, one by one, what cannot be switched

WORK is a folder of its own, and what is built stays in it: another copy of the crate must not share
its programs. Needs cargo-mutants (for the list) and nothing else.
"""
import concurrent.futures as futures, json, os, re, shutil, signal, subprocess, sys, time
from collections import defaultdict

ROOT = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
MUTANTS = os.environ.get("CARGO_MUTANTS", "cargo-mutants")


def listed(room, shard):
    out = subprocess.run([MUTANTS, "mutants", "--list", "--json", "-f", f"src/{room}/**", "-f", f"src/{room}.rs"],
                         cwd=ROOT, capture_output=True, text=True).stdout
    every = json.loads(out)
    if shard:
        k, n = map(int, shard.split("/"))
        every = every[k::n]
    for mutant in every:
        mutant["room"] = room
        text = open(os.path.join(ROOT, mutant["file"])).read()
        at = offsets(text)
        span = mutant.get("function") and mutant["function"]["span"]
        # Attributes and visibility may come first.
        head = text[at(span["start"]):at(span["end"])].split("{")[0] if span else ""
        mutant["const"] = bool(re.search(r"\bconst fn\b", head))
    return every


# Files whose `const fn` nothing constant needs: they are ordinary functions here, and can be switched.
PLAIN = ["src/tree/facts.rs", "src/stats/start_film.rs"]


def source(file):
    """A file's text, every character in its place."""
    text = open(os.path.join(ROOT, file)).read()
    return re.sub(r"\bconst fn\b", "      fn", text) if file in PLAIN else text


def offsets(text):
    starts = [0]
    for i, c in enumerate(text):
        if c == "\n":
            starts.append(i + 1)
    return lambda at: starts[at["line"] - 1] + at["column"] - 1


def close_to_open(text, begin, end):
    """The brace that the last one of a function closes."""
    stack, i, pairs = [], begin, {}
    while i < end:
        c = text[i]
        if text.startswith("//", i):
            i = text.find("\n", i)
        elif text.startswith("/*", i):
            i = text.find("*/", i) + 1
        elif c == '"' or re.match(r'b?r#*"', text[i:i + 8]) and not (text[i - 1].isalnum() or text[i - 1] == "_"):
            raw = re.match(r'b?r(#*)"', text[i:i + 8])
            if raw and c != '"':
                i = text.find('"' + raw.group(1), i + raw.end()) + len(raw.group(1))
            else:
                i += 1
                while text[i] != '"':
                    i += 2 if text[i] == "\\" else 1
        elif c == "'":
            char = re.match(r"'(\\u\{[0-9a-fA-F_]+\}|\\x..|\\.|[^\\'])'", text[i:i + 14])
            if char:
                i += char.end() - 1
        elif c == "{":
            stack.append(i)
        elif c == "}":
            pairs[i] = stack.pop()
        i += 1
    return pairs[max(pairs)], max(pairs)


def write(work, mutants, dropped):
    """Writes all files; gives for each file the lines of each change, and the function of each change."""
    lines_of, function_of = defaultdict(list), {}
    by_file = defaultdict(list)
    for mutant in mutants:
        if mutant["id"] not in dropped:
            by_file[mutant["file"]].append(mutant)
    for file in {m["file"] for m in mutants}:
        text = source(file)
        at = offsets(text)
        functions = defaultdict(list)
        for mutant in by_file[file]:
            span = mutant["function"]["span"]
            functions[(at(span["start"]), at(span["end"]))].append(mutant)
        out, done = [], 0
        for (begin, end), changes in sorted(functions.items()):
            if begin < done:
                continue
            first, last = close_to_open(text, begin, end)
            out.append(text[done:first])
            function = min(mutant["id"] for mutant in changes)
            out.append("{\n match crate::mutant_switch::at(%d) {\n" % function)
            for mutant in changes:
                function_of[mutant["id"]] = function
                a, b = at(mutant["span"]["start"]), at(mutant["span"]["end"])
                body = text[first:a] + mutant["replacement"] + text[b:last + 1]
                if mutant["genre"] == "FnValue":
                    body = "{" + mutant["replacement"] + "}"
                out.append(f"{mutant['id']} =>\n")
                so_far = "".join(out).count("\n") + 1
                out = ["".join(out)]
                lines_of[file].append((so_far, so_far + body.count("\n"), mutant["id"]))
                out.append(body + "\n")
            out.append("_ =>\n" + text[first:last + 1] + "\n}\n}")
            done = last + 1
        out.append(text[done:])
        new = "".join(out)
        path = os.path.join(work, file)
        if not os.path.exists(path) or open(path).read() != new:
            open(path, "w").write(new)
    return lines_of, function_of


def is_left(mutant):
    """What cannot be switched: the arms would have types of their own, or run at compile time."""
    if not mutant.get("function"):
        return "no function"
    if mutant["const"] and mutant["file"] not in PLAIN:
        return "const fn"
    if "impl " in (mutant["function"].get("return_type") or ""):
        return "impl type"
    return None


def build(work, target, what):
    return subprocess.run(["cargo", *what, "--no-default-features", "--message-format=json"],
                          cwd=work, capture_output=True, text=True,
                          env={**os.environ, "CARGO_TARGET_DIR": target})


def copy_crate(work):
    shutil.rmtree(os.path.join(work, "src"), ignore_errors=True)
    os.makedirs(work, exist_ok=True)
    for part in ["src", "tests", "benches", "assets", "docs"]:
        shutil.copytree(os.path.join(ROOT, part), os.path.join(work, part), dirs_exist_ok=True)
    for part in ["Cargo.toml", "Cargo.lock", "README.md", "CHANGELOG.md", "DEVELOPERS.md", "deny.toml"]:
        shutil.copy(os.path.join(ROOT, part), work)


def make(work, wanted):
    copy_crate(work)
    lib_path = os.path.join(work, "src/lib.rs")
    lib_text = open(lib_path).read()
    with open(lib_path, "w") as lib:
        # What the compiler sees through must still be run, and told of by a test.
        lib.write("#![allow(warnings, arithmetic_overflow, unconditional_panic)]\n" + lib_text + '''
#[doc(hidden)] #[allow(missing_docs)]
pub mod mutant_switch {
    use std::io::Write;
    use std::sync::LazyLock;
    use std::sync::atomic::{AtomicBool, Ordering};
    static ON: LazyLock<u32> = LazyLock::new(|| std::env::var("MUTANT").ok().and_then(|n| n.parse().ok()).unwrap_or(0));
    static SEEN: [AtomicBool; 10_000] = [const { AtomicBool::new(false) }; 10_000];
    static TOLD: LazyLock<Option<std::fs::File>> = LazyLock::new(|| {
        let path = std::env::var("MUTANTS_SEEN").ok()?;
        std::fs::OpenOptions::new().append(true).create(true).open(path).ok()
    });
    /// The change that is on; a function that is reached says so once.
    #[inline] pub fn at(function: usize) -> u32 {
        if let Some(mut file) = TOLD.as_ref() && !SEEN[function].swap(true, Ordering::Relaxed) {
            let _ = file.write_all(format!("{function}\\n").as_bytes());
        }
        *ON
    }
}
''')
    mutants = []
    for room in wanted:
        room, _, shard = room.partition(":")
        mutants += listed(room, shard)
    left = []
    for number, mutant in enumerate(mutants, 1):
        mutant["id"] = number
    kept = [m for m in mutants if not is_left(m)]
    left = {m["id"]: is_left(m) for m in mutants if is_left(m)}
    dropped = {}
    target = os.path.join(work, "target")
    while True:
        lines_of, function_of = write(work, kept, dropped)
        began = time.time()
        answer = build(work, target, ["check", "--lib"])
        found, other = {}, []
        for line in answer.stdout.splitlines():
            message = json.loads(line)
            if message.get("reason") != "compiler-message" or message["message"]["level"] != "error":
                continue
            spans = message["message"]["spans"]
            hits = [i for s in spans for (a, b, i) in lines_of.get(s["file_name"], []) if a <= s["line_start"] <= b]
            if hits:
                found[hits[0]] = message["message"]["message"]
            elif spans:
                other.append(message["message"]["rendered"])
        print(f"built in {time.time() - began:.0f} s: {len(found)} do not compile, {len(other)} other errors", flush=True)
        if answer.returncode == 0:
            break
        if not found:
            print("\n".join(other[:5]) or answer.stderr[-3000:])
            sys.exit(1)
        dropped.update(found)
    left.update({m["id"]: "in another function" for m in kept
                 if m["id"] not in dropped and m["id"] not in function_of})
    facts = {"mutants": mutants, "left": left, "dropped": dropped}
    json.dump(facts, open(os.path.join(work, "mutants.json"), "w"))
    print(f"{len(mutants)} changes, {len(left)} left, {len(dropped)} do not compile", flush=True)
    reach(work, function_of)


# Files of tests that hold these rooms to their word, beside all unit tests.
TESTS = ["stories", "properties", "rules_of_the_start", "start_against_the_book", "drills", "replay",
         "press_decoding", "press_matching", "press_rules", "press_simulated", "controls",
         "history_lines", "history_damage", "history_writing", "formats", "cli_history", "cli_slips", "demo", "weeks", "weeks_counted",
         "hostile", "history_fuzz", "faults", "long_history",
         "stats_laws", "stats_summary", "stats_film", "stats_rig", "stats_over_time", "stats_over_time_properties",
         "mixture", "risk_reference", "stats_reference", "stats_properties", "bridge", "cli_fit", "cli_risk",
         "risk_properties", "aim", "ledger", "rpm_steps", "odds_reference", "desk", "desk_pages", "cli_odds", "cli_aim",
         "cli_report", "cli_rig", "my_car", "slips_practice", "advice", "coverage"]
# A test of fewer seconds is asked together with the others of its program.
QUICK = 0.5
# So many seconds of tests are asked of one change, the quickest first; `again` asks the rest of those that survived.
ENOUGH = float(os.environ.get("MUTANTS_SECONDS", 10))


class DoesNotCompile(Exception):
    pass


def programs(work, target, tests):
    """The unit tests and these programs by name, built."""
    what = ["test", "--no-run", "--lib", *(["--bins"] if tests else [])] + [w for t in tests for w in ("--test", t)]
    answer = build(work, target, what)
    if answer.returncode:
        raise DoesNotCompile(answer.stderr[-3000:])
    found = {}
    for line in answer.stdout.splitlines():
        message = json.loads(line)
        if message.get("reason") == "compiler-artifact" and message.get("executable") and message["profile"]["test"]:
            kind = message["target"]["kind"][0]
            found["lib" if kind == "lib" else message["target"]["name"]] = message["executable"]
    return found


def passes(work, path, names, limit, more):
    args = [path, "--quiet", "--test-threads", "1", "--exact", *names]
    env = {**os.environ, "PROPTEST_CASES": "32", **more}
    # A change that never ends takes memory as well. Processor time, not the clock: the machine may be busy.
    limits = ["prlimit", "--as=8000000000", f"--cpu={limit:.0f}"]
    try:
        done = subprocess.run([*limits, *args], cwd=work, env=env, timeout=40 * limit,
                              stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    except subprocess.TimeoutExpired:
        return None
    return None if done.returncode in (-signal.SIGXCPU, -signal.SIGKILL) else done.returncode == 0


def reach(work, function_of):
    """Runs each test alone, without a change, and keeps what it takes and which functions it reaches."""
    have = programs(work, os.path.join(work, "target"), TESTS)
    cases = []
    for program, path in have.items():
        told = subprocess.run([path, "--list", "--format", "terse"], cwd=work, capture_output=True, text=True).stdout
        cases += [(program, line.removesuffix(": test")) for line in told.splitlines() if line.endswith(": test")]

    def ask(case):
        program, name = case
        file = os.path.join(work, "seen", f"{program}--{name}".replace(":", "_"))
        began = time.time()
        good = passes(work, have[program], [name], 200, {"MUTANTS_SEEN": file})
        takes = time.time() - began
        seen = sorted({int(line) for line in open(file)}) if os.path.exists(file) else []
        return {"program": program, "name": name, "takes": takes, "passes": good is True, "seen": seen}

    shutil.rmtree(os.path.join(work, "seen"), ignore_errors=True)
    os.makedirs(os.path.join(work, "seen"))
    with futures.ThreadPoolExecutor(2) as pool:
        asked = list(pool.map(ask, cases))
    for case in asked:
        if not case["passes"]:
            print("not asked, for it fails without any change:", case["program"], case["name"])
    json.dump({"programs": have, "functions": function_of, "cases": [case for case in asked if case["passes"]]},
              open(os.path.join(work, "reach.json"), "w"))
    print(f"{len(asked)} tests, {sum(case['takes'] for case in asked):.0f} s", flush=True)


def batches(cases):
    """Quick tests of a program together, long ones alone; what takes least first."""
    quick = defaultdict(list)
    for case in cases:
        if case["takes"] < QUICK:
            quick[case["program"]].append(case)
    together = [*quick.values(), *([case] for case in cases if case["takes"] >= QUICK)]
    told = [(sum(case["takes"] for case in batch), batch[0]["program"], [case["name"] for case in batch])
            for batch in together]
    return sorted(told)


def enough(cases):
    """The quickest, as many as there is time for, and one at least."""
    told, so_far = [], 0.0
    for case in sorted(cases, key=lambda case: case["takes"]):
        if told and so_far + case["takes"] > ENOUGH:
            break
        told.append(case)
        so_far += case["takes"]
    return told


def judged(work, have, cases, mutant):
    if not cases:
        return mutant, "survived", "(no test reaches it)"
    for takes, program, names in batches(cases):
        good = passes(work, have[program], names, 5 + 10 * takes, {"MUTANT": str(mutant["id"])})
        if good is not True:
            return mutant, "timed out" if good is None else "caught", program
    return mutant, "survived", ""


def left(work):
    """What cannot be switched, in a crate beside the switched one: a build each, of the unit tests first."""
    facts, reached = (json.load(open(os.path.join(work, name))) for name in ["mutants.json", "reach.json"])
    beside = os.path.join(work, "one_by_one")
    copy_crate(beside)
    target = os.path.join(beside, "target")
    done = open(os.path.join(work, "left.txt")).read() if os.path.exists(os.path.join(work, "left.txt")) else ""
    with open(os.path.join(work, "left.txt"), "a") as out:
        for mutant in facts["mutants"]:
            if str(mutant["id"]) not in facts["left"] or mutant["name"] in done:
                continue
            path = os.path.join(beside, mutant["file"])
            before = open(path).read()
            at = offsets(before)
            a, b = at(mutant["span"]["start"]), at(mutant["span"]["end"])
            open(path, "w").write(before[:a] + mutant["replacement"] + before[b:])
            # Who reaches anything in the same file is asked.
            near = {reached["functions"].get(str(m["id"])) for m in facts["mutants"] if m["file"] == mutant["file"]}
            cases = [case for case in reached["cases"] if near & set(case["seen"])] or reached["cases"]
            units = [case for case in cases if case["program"] == "lib"]
            others = enough([case for case in cases if case["program"] != "lib"])
            try:
                _, how, by = judged(beside, programs(beside, target, []), units, mutant)
                if how == "survived" and others:
                    _, how, by = judged(beside, programs(beside, target, {c["program"] for c in others}), others, mutant)
            except DoesNotCompile:
                how, by = "does not compile", ""
            print(how, by, mutant["name"], file=out, flush=True)
            open(path, "w").write(before)


def run(work, rooms):
    facts, reached = (json.load(open(os.path.join(work, name))) for name in ["mutants.json", "reach.json"])
    have = reached["programs"]
    who = defaultdict(list)
    for case in reached["cases"]:
        for function in case["seen"]:
            who[function].append(case)
    skip = set(facts["left"]) | set(facts["dropped"])
    for room in rooms:
        mine = [m for m in facts["mutants"] if m["room"] == room and str(m["id"]) not in skip]
        done = {}
        if os.path.exists(os.path.join(work, f"{room}.txt")):
            told = [line.rstrip("\n").split(" src/", 1) for line in open(os.path.join(work, f"{room}.txt"))]
            done = {"src/" + name: how for how, name in told}
        before = defaultdict(int)
        for how in done.values():
            before[" ".join(how.split()[:2 if how.startswith("timed") else 1])] += 1
        print(f"{room}: {len(done)} done before: {dict(before)}", flush=True)
        mine = [m for m in mine if m["name"] not in done]
        asked = {m["id"]: who[reached["functions"][str(m["id"])]] for m in mine}
        asked = {i: enough(cases) for i, cases in asked.items()}
        most = sum(case["takes"] for cases in asked.values() for case in cases)
        print(f"{room}: {len(mine)} to try, {most / 2:.0f} s if all survive", flush=True)
        counts, began = defaultdict(int), time.time()
        with futures.ThreadPoolExecutor(2) as pool, open(os.path.join(work, f"{room}.txt"), "a") as out:
            tries = [pool.submit(judged, work, have, asked[mutant["id"]], mutant) for mutant in mine]
            for number, tried in enumerate(futures.as_completed(tries), 1):
                mutant, how, by = tried.result()
                counts[how] += 1
                print(how, by, mutant["name"], file=out, flush=True)
                if number % 50 == 0:
                    print(f"{room}: {number} of {len(mine)}, {dict(counts)}, {time.time() - began:.0f} s", flush=True)
        print(f"{room}: {len(mine)} tried: {dict(counts)}", flush=True)


if __name__ == "__main__":
    work, what, rest = sys.argv[1], sys.argv[2], sys.argv[3:]
    if what == "make":
        make(os.path.abspath(work), rest)
    if what == "run":
        run(os.path.abspath(work), rest)
    if what == "left":
        left(os.path.abspath(work))
