// Opens each page and picture of a folder in headless Chromium, on narrow, middle and wide screens, light and dark: nothing may be
// logged, thrown or loaded from outside, neither the page nor a table may scroll sideways, the accessibility checker may find nothing,
// and every link and picture that takes the keyboard must show where it is; no text of a picture may lie on another or leave the
// picture. Printed on A4 and Letter no card, table, picture or row may be cut, except a card that is longer than a page, and nothing may
// be wider than the paper. Screenshots and printed pages stay in the folder.
import { execFileSync } from "node:child_process";
import fs from "node:fs";
import path from "node:path";
import { pathToFileURL } from "node:url";
import axe from "axe-core";
import puppeteer from "puppeteer-core";

const WIDTHS = [360, 800, 1280];
// What is left of the width of each paper between the margins of the style sheet, CSS px.
const PAPERS = { A4: 718, Letter: 740 };
// What each card of a joint says once, in tables of its own: a page that holds one of them more often than another cuts a card.
const OF_A_CARD = [/What commands become/g, /feedback\s+sense/g, /taken on/g, /counts at \d/g];

const folder = process.argv[2];
const candidates = ["/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"];
const browser = await puppeteer.launch({
  executablePath: process.env.CHROMIUM ?? candidates.find((file) => fs.existsSync(file)),
  args: ["--no-sandbox"],
});
let failed = false;

function say(faults, what) {
  faults.forEach((fault) => console.log(`  ${fault}`));
  console.log(`${faults.length ? "FAILED" : "ok"} - ${what}`);
  failed ||= faults.length > 0;
}

// What of a page can be reached by keyboard and does not show it: every stop of the Tab key in turn.
async function keyboard(page) {
  const stops = await page.evaluate(() => document.querySelectorAll("a[href], [tabindex]").length);
  const faults = [];
  const seen = new Set();
  for (let stop = 0; stop < stops; stop++) {
    await page.keyboard.press("Tab");
    const [index, fault] = await page.evaluate(() => {
      const element = document.activeElement;
      const all = [...document.querySelectorAll("a[href], [tabindex]")];
      const { outlineStyle, outlineWidth } = getComputedStyle(element);
      const { right, bottom } = element.getBoundingClientRect();
      const shown = outlineStyle !== "none" && parseFloat(outlineWidth) >= 2 && right > 0 && bottom > 0;
      return [all.indexOf(element), shown ? "" : `does not show the focus: ${element.outerHTML.slice(0, 90)}`];
    });
    seen.add(index);
    if (fault) faults.push(fault);
  }
  if (seen.has(-1) || seen.size !== stops) faults.push(`the Tab key reaches ${seen.size} of ${stops} places`);
  return faults;
}

// What is wider than there is room for: a part of a page beyond its edge, or a table that must be scrolled.
async function wide(page) {
  return page.evaluate(() => {
    const faults = [];
    if (document.documentElement.scrollWidth > window.innerWidth) faults.push("the page scrolls sideways");
    for (const element of document.querySelectorAll("h1, h2, h3, p, li, table, th, td, article")) {
      const { left, right } = element.getBoundingClientRect();
      const table = element.closest("table")?.parentElement;
      const edge = table ? table.getBoundingClientRect().right : window.innerWidth;
      if (right > edge + 1 || left < -1 && !element.closest("thead")) faults.push(`too wide: ${element.outerHTML.slice(0, 90)}`);
    }
    // A number broken over two lines is read as another one.
    for (const cell of document.querySelectorAll("td.n")) {
      const text = cell.textContent.trim();
      const range = document.createRange();
      range.selectNodeContents(cell);
      const lines = new Set([...range.getClientRects()].map((line) => Math.round(line.top)));
      if (/^\S+$/.test(text) && lines.size > 1) faults.push(`the number ${text} is broken over ${lines.size} lines`);
    }
    return faults;
  });
}

// Texts of the pictures that lie on one another, or leave their picture.
async function crowded(page) {
  return page.evaluate(() => {
    const faults = [];
    for (const picture of document.querySelectorAll("svg[role=img]")) {
      const paper = picture.getBoundingClientRect();
      const texts = [...picture.querySelectorAll("text")].map((text) => [text.textContent, text.getBoundingClientRect()]);
      // A part of a letter that reaches out costs nothing.
      const slack = 0.004 * paper.width;
      texts.forEach(([name, a], index) => {
        if (a.left < paper.left - slack || a.right > paper.right + slack || a.top < paper.top - slack || a.bottom > paper.bottom + slack) {
          faults.push(`"${name}" leaves ${picture.querySelector("title").textContent}`);
        }
        for (const [other, b] of texts.slice(index + 1)) {
          const over = Math.min(a.right, b.right) - Math.max(a.left, b.left);
          const under = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
          if (over > slack && under > 0.3 * Math.min(a.height, b.height, a.width, b.width)) {
            faults.push(`"${name}" lies on "${other}" in ${picture.querySelector("title").textContent}`);
          }
        }
      });
    }
    return faults;
  });
}

// What assistive technology is given of a page, in reading order, a line an item: kept beside the page, to be read. Every picture has a
// name and a description, every region, table and link a name, and headings leave out no level.
async function aloud(page, file) {
  const client = await page.createCDPSession();
  const { nodes } = await client.send("Accessibility.getFullAXTree");
  const byId = new Map(nodes.map((node) => [node.nodeId, node]));
  const faults = [];
  const lines = [];
  let level = 0;
  const tell = (node, depth) => {
    const role = node.role?.value ?? "";
    const text = node.name?.value ?? "";
    const description = node.description?.value ?? "";
    const shown = !node.ignored && !["none", "generic", "InlineTextBox"].includes(role);
    if (shown) {
      lines.push(`${"  ".repeat(depth)}${role} ${JSON.stringify(text)}${description ? ` (${description})` : ""}`);
      const heading = node.properties?.find((property) => property.name === "level")?.value.value;
      if (role === "heading") {
        if (heading > level + 1) faults.push(`heading "${text}" is of level ${heading} after one of level ${level}`);
        level = heading;
      }
      if (["image", "img", "graphics-document"].includes(role) && !(text && description)) {
        faults.push(`a picture without words: ${text}`);
      }
      if (description && text.includes(description)) faults.push(`told twice: ${description}`);
      if (["region", "group", "table", "link"].includes(role) && !text) faults.push(`a ${role} without a name`);
      // What a picture is made of is told by its name and description.
      if (["image", "img", "graphics-document"].includes(role)) return;
    }
    for (const id of node.childIds ?? []) if (byId.has(id)) tell(byId.get(id), shown ? depth + 1 : depth);
  };
  tell(nodes[0], 0);
  if (!lines.some((line) => /(image|img|graphics-document) /.test(line))) faults.push("no picture is told of");
  fs.writeFileSync(file, `${lines.join("\n")}\n`);
  return faults;
}

for (const name of fs.readdirSync(folder).filter((name) => /\.(html|svg)$/.test(name)).sort()) {
  const isPage = name.endsWith(".html");
  const url = pathToFileURL(path.join(folder, name)).href;
  for (const scheme of ["light", "dark"]) {
    for (const width of isPage ? WIDTHS : [760]) {
      const page = await browser.newPage();
      // The report needs no script: whatever it is tested with runs by the debugger alone.
      await page.emulateMediaFeatures([{ name: "prefers-color-scheme", value: scheme }]);
      await page.setViewport({ width, height: 900 });
      const faults = [];
      page.on("console", (message) => faults.push(`console: ${message.text()}`));
      page.on("pageerror", (error) => faults.push(`thrown: ${error}`));
      page.on("request", (request) => {
        if (request.url() !== url && !request.url().startsWith("data:")) faults.push(`loads ${request.url()}`);
      });
      await page.goto(url, { waitUntil: "load" });
      await page.screenshot({ path: path.join(folder, `${name}-${width}-${scheme}.png`), fullPage: true });
      if (isPage) {
        await page.evaluate(axe.source);
        const { violations } = await page.evaluate(() => globalThis.axe.run());
        for (const { id, help, nodes } of violations) faults.push(`${id}: ${help}: ${nodes[0].html}`);
        faults.push(...(await wide(page)), ...(await keyboard(page)));
      }
      if (scheme === "light") faults.push(...(await crowded(page)));
      say(faults, `${name} at ${width} px, ${scheme}`);
      await page.close();
    }
  }
  if (isPage) {
    const page = await browser.newPage();
    await page.setViewport({ width: 1280, height: 900 });
    await page.goto(url, { waitUntil: "load" });
    const file = path.join(folder, `${name}-aloud.txt`);
    const faults = await aloud(page, file);
    // Tables that are laid out as blocks stay tables.
    await page.setViewport({ width: 360, height: 900 });
    faults.push(...(await aloud(page, `${file}-360.txt`)));
    const told = [file, `${file}-360.txt`].map((kept) => fs.readFileSync(kept, "utf8").split("\n"));
    const change = told[0].findIndex((line, index) => line.trim() !== told[1][index]?.trim());
    if (change >= 0) faults.push(`at 360 px: ${told[1][change]?.trim()}, not ${told[0][change].trim()}`);
    say(faults, `${name} as a screen reader is given it, at 1280 and 360 px`);
    await page.close();
  }
  for (const [format, width] of isPage ? Object.entries(PAPERS) : []) {
    const page = await browser.newPage();
    await page.setViewport({ width, height: 900 });
    await page.goto(url, { waitUntil: "load" });
    await page.emulateMediaType("print");
    const faults = await wide(page);
    const file = path.join(folder, `${name}-${format}.pdf`);
    await page.pdf({ path: file, format });
    const sheets = execFileSync("pdftotext", ["-raw", file, "-"], { encoding: "utf8" }).split("\f").slice(0, -1);
    const cards = sheets.map((sheet, index) => {
      const counts = OF_A_CARD.map((part) => (sheet.match(part) ?? []).length);
      if (counts.some((count) => count !== counts[0])) faults.push(`page ${index + 1} cuts a card: ${counts}`);
      return counts[0];
    });
    say(faults, `${name} on ${format}: ${sheets.length} pages, joints on each: ${cards.join(" ")}`);
    await page.close();
  }
}
await browser.close();
process.exit(failed ? 1 : 0);
