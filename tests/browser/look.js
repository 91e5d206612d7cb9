// Pages in headless Chromium at the widths of a phone, a tablet and a desk: axe-core's verdict in light and dark, console messages, requests,
// sideways scrolling of the page, what is cut off, and screenshots. Cut off is an element that is wider than the window, and a region that
// scrolls without a shadow at its edge to say so; each region that scrolls is listed. node look.js OUT PAGE…; needs axe-core and puppeteer-core (package.json here) and a chromium. Prints JSON.
const puppeteer = require("puppeteer-core");
const fs = require("fs");
const path = require("path");

(async () => {
  const [out, ...pages] = process.argv.slice(2);
  const browser = await puppeteer.launch({ executablePath: process.env.CHROMIUM || "/usr/bin/chromium", args: ["--no-sandbox", "--allow-file-access-from-files"] });
  const axe = fs.readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");
  const found = [];
  for (const file of pages) {
    for (const [name, width, scheme] of [["desktop", 1280, "light"], ["desktop-dark", 1280, "dark"], ["tablet", 768, "light"], ["phone", 390, "light"]]) {
      const page = await browser.newPage();
      const messages = [], requests = [];
      page.on("console", (m) => messages.push(m.text()));
      page.on("pageerror", (e) => messages.push(String(e)));
      page.on("request", (r) => requests.push(r.url()));
      await page.setBypassCSP(true); // for axe only; the page's own policy is checked by tests/show/03-journal-faults.sh
      await page.emulateMediaFeatures([{ name: "prefers-color-scheme", value: scheme }]);
      await page.setViewport({ width, height: 900 });
      await page.goto("file://" + path.resolve(file), { waitUntil: "load" });
      await page.screenshot({ path: path.join(out, path.basename(file, ".html") + "-" + name + ".png"), fullPage: true });
      const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
      const cut = await page.evaluate(() => {
        const scrolls = [...document.querySelectorAll(".scroll")].filter((e) => e.scrollWidth > e.clientWidth);
        const signed = (e) => getComputedStyle(e).backgroundImage.includes("gradient");
        const inside = (e) => scrolls.some((s) => s.contains(e));
        const width = document.documentElement.clientWidth;
        const out = [...document.querySelectorAll("main *, header *, footer *")].filter((e) => {
          const box = e.getBoundingClientRect();
          return box.width > 1 && !inside(e) && (box.right > width + 1 || box.left < -1);
        });
        const words = (e) => e.tagName.toLowerCase() + ": " + e.textContent.trim().slice(0, 60);
        const label = (e) => e.getAttribute("aria-label");
        return { cut: out.map(words).concat(scrolls.filter((e) => !signed(e)).map(label)), scrolls: scrolls.map(label) };
      });
      await page.evaluate(axe);
      const verdict = await page.evaluate(() => axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] }));
      found.push({
        page: path.basename(file), name,
        violations: verdict.violations.map((v) => v.id + ": " + v.nodes.map((n) => n.html.slice(0, 120)).join(" | ")),
        passes: verdict.passes.length, messages, sideways: wide, ...cut,
        elsewhere: requests.filter((u) => !u.startsWith("file://")),
      });
      await page.close();
    }
  }
  await browser.close();
  console.log(JSON.stringify(found, null, 1));
})().catch((e) => { console.error(e); process.exit(1); });
