// Opens each page and picture of a folder in headless Chromium, on narrow, middle and wide screens, light and dark: nothing may be
// logged, thrown or loaded from outside, the page may not scroll sideways, the accessibility checker may find nothing, and every
// link, region and picture that takes the keyboard must show where it is. Printed on A4 and Letter no card, table, picture or row
// may be cut, except a card that is longer than a page. Screenshots and printed pages stay in the folder.
import { execFileSync } from "node:child_process";
import fs from "node:fs";
import path from "node:path";
import { pathToFileURL } from "node:url";
import axe from "axe-core";
import puppeteer from "puppeteer-core";

const WIDTHS = [360, 800, 1280];
const PAPERS = ["A4", "Letter"];
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

// What of a page can be reached by keyboard and does not show it.
async function keyboard(page) {
  return page.evaluate(() => {
    const faults = [];
    for (const element of document.querySelectorAll("a[href], [tabindex]")) {
      element.focus();
      if (document.activeElement !== element) faults.push(`takes no focus: ${element.outerHTML.slice(0, 90)}`);
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
        const wide = await page.evaluate(() => document.documentElement.scrollWidth > window.innerWidth);
        if (wide) faults.push("the page scrolls sideways");
        faults.push(...(await keyboard(page)));
      }
      say(faults, `${name} at ${width} px, ${scheme}`);
      await page.close();
    }
  }
  if (isPage) {
    const page = await browser.newPage();
    await page.goto(url, { waitUntil: "load" });
    say(await aloud(page, path.join(folder, `${name}-aloud.txt`)), `${name} as a screen reader is given it`);
    await page.close();
  }
  for (const format of isPage ? PAPERS : []) {
    const page = await browser.newPage();
    await page.goto(url, { waitUntil: "load" });
    const file = path.join(folder, `${name}-${format}.pdf`);
    await page.pdf({ path: file, format });
    const sheets = execFileSync("pdftotext", ["-raw", file, "-"], { encoding: "utf8" }).split("\f").slice(0, -1);
    const faults = [];
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
