// The report page in a real browser. LEES_PAGES names the folder with the pages.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { after, before, test } from "node:test";
import { pathToFileURL } from "node:url";
import { join } from "node:path";
import axe from "axe-core";
import { chromium } from "playwright-core";

const FLAGS = [
  "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
  "--disable-component-update", "--disable-sync",
];
const LOAD_MS = 1000; // fifty spectra
const PAGE_BYTES = 10_000_000;
const pages = process.env.LEES_PAGES;
let browser;

before(async () => {
  browser = await chromium.launch({ executablePath: "/usr/bin/chromium", args: FLAGS });
});
after(() => browser.close());

function address(name) {
  return pathToFileURL(join(pages, name)).href;
}

/* Opens a page and fails, when it is closed, on any message or on any request but the page itself. */
async function open(name, options = {}) {
  const context = await browser.newContext({ viewport: { width: 1240, height: 900 }, ...options });
  const page = await context.newPage();
  const faults = [];
  page.on("console", (message) => {
    if (["error", "warning"].includes(message.type())) { faults.push(message.text()); }
  });
  page.on("pageerror", (error) => faults.push(error.message));
  page.on("request", (request) => {
    const url = request.url();
    if (url.split("#")[0] !== address(name) && !url.startsWith("data:")) { faults.push(`request for ${url}`); }
  });
  page.done = async () => {
    await context.close();
    assert.deepEqual(faults, []);
  };
  await page.goto(address(name) + (options.hash || ""));
  return page;
}

async function view(page, box = "article .live") {
  const data = await page.locator(box).first().evaluate((node) => ({ ...node.dataset }));
  return { high: Number(data.high), low: Number(data.low), span: data.high - data.low };
}

/* Where a shift stands on the screen. */
async function place(page, ppm) {
  const { high, span } = await view(page);
  const box = await page.locator("article .live svg").first().boundingBox();
  return { x: box.x + (high - ppm) / span * box.width, y: box.y + box.height / 2 };
}

test("the verdict is the first thing on the page", async () => {
  const page = await open("one.html");
  const text = await page.locator("main").innerText();
  assert.ok(text.startsWith("needs drying"), text.slice(0, 80));
  assert.ok(await page.locator("article .live svg").isVisible());
  assert.ok(!(await page.locator("article .still").isVisible()));
  await page.done();
});

test("buttons, wheel and keys zoom; dragging pans", async () => {
  const page = await open("one.html");
  const whole = await view(page);
  await page.getByRole("button", { name: "Zoom in" }).click();
  const half = await view(page);
  assert.ok(Math.abs(half.span - whole.span / 2) < 0.01, JSON.stringify(half));

  const svg = page.locator("article .live svg").first();
  await svg.scrollIntoViewIfNeeded();
  const box = await svg.boundingBox();
  const middle = [box.x + box.width / 2, box.y + box.height / 2];
  await page.mouse.move(...middle);
  await page.mouse.down();
  await page.mouse.move(middle[0] + box.width / 4, middle[1], { steps: 4 });
  await page.mouse.up();
  const panned = await view(page);
  assert.ok(Math.abs(panned.high - half.high - half.span / 4) < 0.05, JSON.stringify([half, panned]));

  await svg.focus();
  await page.mouse.move(...middle);
  await page.mouse.wheel(0, -100);
  await page.waitForFunction((span) => {
    const data = document.querySelector("article .live").dataset;
    return data.high - data.low < 0.85 * span;
  }, panned.span);

  await page.keyboard.press("0");
  assert.deepEqual(await view(page), whole);
  await page.keyboard.press("+");
  assert.ok((await view(page)).span < whole.span);
  const before = await view(page);
  await page.keyboard.press("ArrowRight");
  assert.ok((await view(page)).high < before.high, "to the right is down the shift axis");
  await page.keyboard.press("n");
  const first = await view(page);
  assert.ok(first.low < 9.84 && first.high > 9.84 && first.span < 0.4, JSON.stringify(first));
  await page.done();
});

test("taller shows a weak signal and keeps every line", async () => {
  const page = await open("one.html");
  const tallest = () => page.locator("article .live .curve").evaluate((path) => {
    const box = path.getBBox();
    return box.height;
  });
  await page.locator("button.place", { hasText: "5.30" }).click();
  const { high, low } = await view(page);
  assert.ok(high > 5.3 && low < 5.3 && high - low < 0.4);
  assert.ok((await tallest()) > 120, "the weak line fills the chart");
  await page.done();
});

test("every mark of the axis that is not at its very end has its number", async () => {
  const page = await open("one.html");
  const [marks, numbers, covered] = await page.locator("article .live svg").first().evaluate((svg) => {
    const { width } = svg.viewBox.baseVal;
    const places = [...svg.querySelectorAll("path.axis")].map((path) => /^M([\d.]+) [\d.]+v/.exec(path.getAttribute("d")));
    const inside = places.filter((found) => found && found[1] > 20 && found[1] < width - 20);
    const texts = [...svg.querySelectorAll("text")];
    const boxes = texts.map((text) => text.getBBox());
    const meet = (a, b) => a.x < b.x + b.width && b.x < a.x + a.width && a.y < b.y + b.height && b.y < a.y + a.height;
    const covered = boxes.some((a, i) => boxes.slice(i + 1).some((b) => meet(a, b)));
    return [inside.length, texts.filter((text) => /^[\d.\u2212]+$/.test(text.textContent)).length, covered];
  });
  assert.ok(marks > 5 && numbers >= marks, `${numbers} numbers at ${marks} marks`);
  assert.ok(!covered, "the axis's title covers no number");
  await page.done();
});

test("signal and row light up together", async () => {
  const page = await open("one.html");
  await page.locator("article .live svg").first().scrollIntoViewIfNeeded();
  const at = await place(page, 5.3);
  await page.mouse.move(at.x, at.y);
  await page.waitForSelector("tr.lit");
  assert.match(await page.locator("tr.lit").innerText(), /dichloromethane/);
  assert.match(await page.locator(".says").innerText(), /dichloromethane.*5\.30 ppm/);

  await page.locator("tr[data-row=n1]").hover();
  await page.waitForSelector("g.lit");
  assert.equal(await page.locator("g.lit").first().getAttribute("data-row"), "n1");
  assert.match(await page.locator(".says").innerText(), /water/);
  await page.done();
});

test("the overview sorts, filters and opens a spectrum", async () => {
  const page = await open("many.html");
  const column = (k) => page.locator("#all tbody tr:not([hidden])").evaluateAll(
    (rows, k) => rows.map((row) => row.cells[k].dataset.key), k);
  const heading = page.getByRole("button", { name: "wt %", exact: true });
  await heading.click();
  const up = (await column(3)).map(Number);
  assert.deepEqual(up, [...up].sort((a, b) => a - b));
  assert.equal(await page.locator("th[aria-sort=ascending]").innerText(), "wt %");
  await heading.click();
  assert.deepEqual((await column(3)).map(Number), [...up].reverse());
  await page.getByRole("button", { name: "Spectrum", exact: true }).press("Enter");
  const names = await column(0);
  assert.deepEqual(names, [...names].sort((a, b) => a.localeCompare(b)));

  await page.locator("#only").selectOption("needs drying");
  const verdicts = await column(1);
  assert.ok(verdicts.length > 0 && verdicts.length < 50 && verdicts.every((v) => v === "needs drying"));
  await page.locator("#only").selectOption("");
  await page.locator("#find").fill("dried 31 h");
  assert.deepEqual(await column(0), ["LD-7, dried 31 h"]);
  assert.match(await page.locator("#shown").innerText(), /^1 of 50 shown$/);

  await page.locator(".live.stack").scrollIntoViewIfNeeded();
  await page.waitForSelector(".live.stack .curve");
  assert.equal(await page.locator(".live.stack .curve").count(), 1);
  await page.locator("#find").fill("");
  await page.waitForFunction(() => document.querySelectorAll(".live.stack .curve").length === 12);

  assert.equal(await page.locator("article:visible").count(), 0);
  await page.getByRole("link", { name: "LD-7, dried 3 h", exact: true }).click();
  await page.waitForSelector("#s3 .live .curve");
  assert.equal(await page.locator("article:visible").count(), 1);
  await page.done();
});

test("text from a file stays text", async () => {
  const page = await open("hostile.html");
  assert.equal(await page.evaluate(() => window.owned), undefined);
  const heading = await page.locator("h1").first().innerText();
  assert.equal(heading, 'LD-7 </title><script>window.owned = true</script> & "crystals"');
  assert.equal(await page.locator("img").count(), 0);
  assert.match(await page.title(), /<script>/);
  assert.equal(await page.locator("script").evaluateAll((all) => all.filter((s) => !s.type).length), 2);
  const object = JSON.parse(await page.locator("#j0").evaluate((node) => node.textContent));
  assert.equal(object.input.title, heading);
  await page.done();
});

test("a script that gets in is not run", async () => {
  const context = await browser.newContext();
  const page = await context.newPage();
  await page.goto(address("one.html"));
  await page.evaluate(() => {
    const script = document.createElement("script");
    script.textContent = "window.owned = true";
    document.body.append(script);
    const link = document.createElement("a");
    link.setAttribute("onclick", "window.owned = true");
    document.body.append(link);
    link.click();
  });
  assert.equal(await page.evaluate(() => window.owned), undefined);
  await context.close();
});

test("table and result can be saved", async () => {
  const page = await open("one.html");
  const save = async (name) => {
    const waiting = page.waitForEvent("download");
    await page.getByRole("link", { name }).click();
    return readFileSync(await (await waiting).path(), "utf8");
  };
  const csv = await save("Table as CSV");
  assert.ok(csv.startsWith("path,title,verdict,class,name,cas,shifts_ppm,"), csv.slice(0, 80));
  assert.ok(csv.includes("2-propanol,67-63-0,4.040 1.220,0.05,"), csv);
  assert.equal(JSON.parse(await save("Result as JSON")).schema, "lees/check/1");
  await page.done();
});

test("it prints, and the printed figure takes the live one's place", async () => {
  const page = await open("one.html");
  const pdf = await page.pdf({ format: "A4" });
  assert.equal(pdf.subarray(0, 5).toString(), "%PDF-");
  assert.ok(pdf.length > 20_000, `${pdf.length} bytes`);
  await page.emulateMedia({ media: "print" });
  assert.ok(await page.locator("article .still svg").isVisible());
  assert.ok(!(await page.locator("article .live").isVisible()));
  await page.done();
  const many = await open("many.html");
  await many.emulateMedia({ media: "print" });
  assert.equal(await many.locator("article:visible").count(), 50);
  await many.done();
});

test("without script the figure and the tables are there", async () => {
  const page = await open("one.html", { javaScriptEnabled: false });
  assert.ok(await page.locator("article .still svg").isVisible());
  assert.ok(await page.getByText("above limit").first().isVisible());
  await page.done();
});

for (const [name, options] of [
  ["one.html", {}], ["one.html", { colorScheme: "dark" }], ["many.html", {}], ["many.html", { hash: "#s2" }],
  ["many.html", { colorScheme: "dark", viewport: { width: 400, height: 800 } }],
]) {
  test(`no serious accessibility fault: ${name} ${JSON.stringify(options)}`, async () => {
    const page = await open(name, options);
    await page.evaluate(axe.source);
    const { violations, passes } = await page.evaluate(() => axe.run(document));
    const found = violations.map((v) => `${v.impact} ${v.id}: ${v.nodes.slice(0, 3).map((n) => n.html)}`);
    console.log(`axe-core: ${passes.length} rules passed, ${violations.length} failed`, found);
    assert.deepEqual(violations.filter((v) => ["serious", "critical"].includes(v.impact)).map((v) => v.id), []);
    await page.done();
  });
}

test("fifty spectra load fast and fit", async () => {
  assert.ok(readFileSync(join(pages, "many.html")).length < PAGE_BYTES);
  const times = [];
  for (let k = 0; k < 3; k += 1) {
    const page = await open("many.html");
    times.push(await page.evaluate(() => performance.getEntriesByType("navigation")[0].loadEventEnd));
    await page.done();
  }
  console.log("load times in ms:", times.map(Math.round));
  assert.ok(Math.min(...times) < LOAD_MS, `${times}`);
});
