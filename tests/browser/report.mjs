// The HTML report in a real browser: what a reader sees, in light, in the dark, on a phone and on paper.
//
// Owns the checks and the pictures. Refuses to know the report's words.
//
//   lastamber demo --no-window --data DIR && lastamber report --data DIR --format html --out report.html
//   (cd tests/browser && npm install --no-package-lock)
//   node tests/browser/report.mjs report.html [FOLDER FOR PICTURES]
//
// CHROMIUM names the browser where it is not /usr/bin/chromium. Exit code: 0 all held, 1 something did
// not, 2 it could not be looked at.

import { existsSync, mkdirSync, mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";

const BROWSER = process.env.CHROMIUM ?? "/usr/bin/chromium";
const FLAGS = [
  "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
  "--disable-component-update", "--disable-sync",
];
// A4 and Letter less the report's own margins of 14 mm, at 96 pixels to the inch.
const PAPERS = [["A4", 688], ["Letter", 710]];
const LOOKS = [
  { name: "light", colorScheme: "light", width: 1100 },
  { name: "dark", colorScheme: "dark", width: 1100 },
  { name: "phone", colorScheme: "light", width: 390 },
];

function cannot(why) {
  console.error(`not checked: ${why}`);
  process.exit(2);
}

async function libraries() {
  try {
    const [playwright, axe] = await Promise.all([import("playwright-core"), import("axe-core")]);
    return { chromium: (playwright.default ?? playwright).chromium, axe: axe.default ?? axe };
  } catch (error) {
    return cannot(`${error.message.split("\n")[0]}\n  cd tests/browser && npm install --no-package-lock`);
  }
}

// Runs inside the page: what is wrong with headings, pictures, their text and their width.
function faultsOfThePage() {
  const faults = [];
  const headings = [...document.querySelectorAll("h1,h2,h3,h4,h5,h6")].map((h) => Number(h.tagName[1]));
  if (headings.filter((level) => level === 1).length !== 1) faults.push(`not one h1: ${headings}`);
  headings.forEach((level, i) => {
    if (level > (headings[i - 1] ?? 0) + 1) faults.push(`heading ${i + 1} skips to level ${level}`);
  });
  const linear = (channel) => (channel <= 0.04045 ? channel / 12.92 : ((channel + 0.055) / 1.055) ** 2.4);
  const luminance = (colour) => {
    const [r, g, b] = colour.match(/[\d.]+/g).map((channel) => linear(Number(channel) / 255));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  // W3C, Web Content Accessibility Guidelines 2.2, "contrast ratio".
  const contrast = (a, b) => {
    const [low, high] = [luminance(a), luminance(b)].sort((x, y) => x - y);
    return (high + 0.05) / (low + 0.05);
  };
  const svgs = [...document.querySelectorAll("svg")];
  svgs.forEach((svg, i) => {
    const at = `picture ${i + 1}`;
    if (!svg.querySelector("title")?.textContent.trim()) faults.push(`${at} has no title`);
    const ground = getComputedStyle(svg).backgroundColor;
    const view = svg.viewBox.baseVal;
    const toSvg = svg.getScreenCTM().inverse();
    const boxes = [...svg.querySelectorAll("text")].map((text) => {
      const words = text.textContent;
      const box = text.getBoundingClientRect();
      const corner = (x, y) => new DOMPoint(x, y).matrixTransform(toSvg);
      const [from, to] = [corner(box.left, box.top), corner(box.right, box.bottom)];
      if (from.x < -0.5 || from.y < -0.5 || to.x > view.width + 0.5 || to.y > view.height + 0.5) {
        faults.push(`${at}: "${words}" is cut off`);
      }
      const ratio = contrast(getComputedStyle(text).fill, ground);
      if (ratio < 4.5) faults.push(`${at}: "${words}" has a contrast of ${ratio.toFixed(2)}`);
      // Glyphs are lower than their line.
      const air = 0.2 * (to.y - from.y);
      return { words, left: from.x, right: to.x, top: from.y + air, bottom: to.y - air };
    });
    boxes.forEach((a, place) => boxes.slice(place + 1).forEach((b) => {
      if (a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom) {
        faults.push(`${at}: "${a.words}" lies on "${b.words}"`);
      }
    }));
  });
  if (document.documentElement.scrollWidth > document.documentElement.clientWidth) {
    faults.push(`the page is ${document.documentElement.scrollWidth} wide in ${innerWidth}`);
  }
  return { faults, pictures: svgs.length, headings: headings.length };
}

// Runs inside the page: what is wider than the paper and would be cut off.
function widerThanThePaper() {
  const wide = [...document.querySelectorAll("body *")].filter((e) => e.scrollWidth > e.clientWidth + 1
    && e.clientWidth > 0 && getComputedStyle(e).display !== "inline");
  return wide.map((e) => `${e.tagName.toLowerCase()} of ${e.scrollWidth} in ${e.clientWidth}: `
    + e.textContent.slice(0, 40));
}

async function look(chromium, axe, url, { name, colorScheme, width }, shots) {
  const faults = [];
  const profile = mkdtempSync(join(tmpdir(), "report-browser-"));
  const context = await chromium.launchPersistentContext(profile, {
    executablePath: BROWSER, args: FLAGS, headless: true, colorScheme, viewport: { width, height: 900 },
  });
  try {
    const page = await context.newPage();
    page.on("console", (said) => {
      if (["error", "warning"].includes(said.type())) faults.push(`console: ${said.text()}`);
    });
    page.on("pageerror", (error) => faults.push(`error: ${error.message}`));
    page.on("request", (asked) => {
      if (asked.url() !== url && !asked.url().startsWith("data:")) faults.push(`asks for ${asked.url()}`);
    });
    await page.goto(url, { waitUntil: "load" });
    const seen = await page.evaluate(faultsOfThePage);
    faults.push(...seen.faults);
    // Evaluated from outside, so that the page's own policy stays in force.
    await page.evaluate(axe.source);
    const told = await page.evaluate(() => globalThis.axe.run(document));
    for (const [kind, rules] of [["axe", told.violations], ["axe cannot tell", told.incomplete]]) {
      rules.forEach((rule) => rule.nodes.forEach((node) => {
        // It does not know the ground under text of a picture (those contrasts are looked at above) nor
        // under what is scrolled out of sight on a phone (seen in the same colours at full width).
        const hidden = node.any[0]?.data?.messageKey === "elmPartiallyObscured" && name === "phone";
        const known = hidden || node.html.startsWith("<text");
        if (kind !== "axe" && rule.id === "color-contrast" && known) return;
        faults.push(`${kind}: ${rule.id} at ${node.target}: ${node.failureSummary?.split("\n")[1] ?? rule.help}`);
      }));
    }
    if (shots) await page.screenshot({ path: join(shots, `${name}.png`), fullPage: true });
    if (name === "light") faults.push(...await print(page, shots));
    console.log(`${name}: ${seen.pictures} pictures, ${seen.headings} headings, ${told.passes.length} rules of `
      + `axe-core ${axe.version} hold, ${faults.length} faults`);
  } finally {
    await context.close();
    rmSync(profile, { recursive: true, force: true });
  }
  return faults.map((fault) => `${name}: ${fault}`);
}

async function print(page, shots) {
  const faults = [];
  await page.emulateMedia({ media: "print" });
  for (const [format, width] of PAPERS) {
    await page.setViewportSize({ width, height: 900 });
    const wide = await page.evaluate(widerThanThePaper);
    faults.push(...wide.map((what) => `${format}: ${what}`));
    const path = shots ? join(shots, `${format}.pdf`) : undefined;
    const pdf = await page.pdf({ path, format, preferCSSPageSize: false });
    if (pdf.subarray(0, 5).toString() !== "%PDF-") faults.push(`${format}: no PDF came`);
  }
  return faults;
}

const [file, shots] = process.argv.slice(2);
if (!file) cannot("name the report: node tests/browser/report.mjs report.html [FOLDER FOR PICTURES]");
if (!existsSync(file)) cannot(`${file} is not there`);
if (!existsSync(BROWSER)) cannot(`no browser at ${BROWSER}; name one in CHROMIUM`);
const { chromium, axe } = await libraries();
if (shots) mkdirSync(shots, { recursive: true });
const faults = [];
for (const each of LOOKS) {
  faults.push(...await look(chromium, axe, pathToFileURL(resolve(file)).href, each, shots));
}
faults.forEach((fault) => console.error(fault));
process.exit(faults.length > 0 ? 1 : 0);
