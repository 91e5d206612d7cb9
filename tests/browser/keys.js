// A page by the keyboard alone, in headless Chromium: Tab from the top until the focus comes round, Shift+Tab back by one, then Enter on the
// last link inside a table. node keys.js PAGE; prints JSON: stops, how many of them have no visible sign of focus, how many things that
// can be reached were not, and the title that Enter led to.
const puppeteer = require("puppeteer-core");
const path = require("path");

(async () => {
  const browser = await puppeteer.launch({ executablePath: process.env.CHROMIUM || "/usr/bin/chromium", args: ["--no-sandbox", "--allow-file-access-from-files"] });
  const page = await browser.newPage();
  await page.setViewport({ width: 1280, height: 900 });
  await page.goto("file://" + path.resolve(process.argv[2]), { waitUntil: "load" });
  const wanted = await page.evaluate(() => {
    const all = [...document.querySelectorAll("a[href], [tabindex]")].filter((e) => e.tabIndex >= 0);
    all.forEach((e, k) => { e.dataset.stop = k; });
    return all.length;
  });
  const reached = new Set();
  let unseen = 0, last = null;
  for (let k = 0; k < wanted + 2; k++) {
    await page.keyboard.press("Tab");
    const at = await page.evaluate(() => {
      const e = document.activeElement;
      if (!e || e.dataset.stop === undefined) return null;
      const box = e.getBoundingClientRect(), style = getComputedStyle(e);
      const seen = style.outlineStyle !== "none" && parseFloat(style.outlineWidth) > 0 && box.bottom > 0 && box.top < innerHeight;
      return { stop: e.dataset.stop, seen, cell: Boolean(e.closest("td")) };
    });
    if (!at) continue;
    if (!reached.has(at.stop) && !at.seen) unseen++;
    if (at.cell && !reached.has(at.stop)) last = at.stop;
    reached.add(at.stop);
  }
  let led = null;
  if (last !== null) {
    await page.evaluate((stop) => document.querySelector(`[data-stop="${stop}"]`).focus(), last);
    await Promise.all([page.waitForNavigation({ waitUntil: "load" }), page.keyboard.press("Enter")]);
    led = await page.title();
  }
  await browser.close();
  console.log(JSON.stringify({ stops: reached.size, unreached: wanted - reached.size, unseen, led }));
})().catch((e) => { console.error(e); process.exit(1); });
