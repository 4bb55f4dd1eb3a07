// Opens each page and picture of a folder in headless Chromium: nothing may be logged, thrown or loaded from outside, and
// the accessibility checker may find nothing, on the screen and on a narrow one. Screenshots stay in the folder.
import fs from "node:fs";
import path from "node:path";
import { pathToFileURL } from "node:url";
import axe from "axe-core";
import puppeteer from "puppeteer-core";

const folder = process.argv[2];
const candidates = ["/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"];
const browser = await puppeteer.launch({
  executablePath: process.env.CHROMIUM ?? candidates.find((file) => fs.existsSync(file)),
  args: ["--no-sandbox"],
});
let failed = false;
for (const name of fs.readdirSync(folder).filter((name) => /\.(html|svg)$/.test(name)).sort()) {
  const url = pathToFileURL(path.join(folder, name)).href;
  for (const width of name.endsWith(".html") ? [1000, 380] : [760]) {
    const page = await browser.newPage();
    await page.setViewport({ width, height: 900 });
    const faults = [];
    page.on("console", (message) => faults.push(`console: ${message.text()}`));
    page.on("pageerror", (error) => faults.push(`thrown: ${error}`));
    page.on("request", (request) => {
      if (request.url() !== url && !request.url().startsWith("data:")) faults.push(`loads ${request.url()}`);
    });
    await page.goto(url, { waitUntil: "load" });
    await page.screenshot({ path: path.join(folder, `${name}-${width}.png`), fullPage: true });
    if (name.endsWith(".html")) {
      await page.evaluate(axe.source);
      const { violations } = await page.evaluate(() => globalThis.axe.run());
      for (const { id, help, nodes } of violations) faults.push(`${id}: ${help}: ${nodes[0].html}`);
      const wide = await page.evaluate(() => document.documentElement.scrollWidth > window.innerWidth);
      if (wide) faults.push("the page scrolls sideways");
      if (width === 1000) await page.pdf({ path: path.join(folder, `${name}.pdf`) });
    }
    faults.forEach((fault) => console.log(`  ${fault}`));
    console.log(`${faults.length ? "FAILED" : "ok"} - ${name} at ${width} px`);
    failed ||= faults.length > 0;
    await page.close();
  }
}
await browser.close();
process.exit(failed ? 1 : 0);
