// Opens pages in headless Chromium and says what it saw, as JSON on stdout. It judges nothing: the test does.
//
// Stdin: {modules, chromium, base, pages: [path], axe: bool, schemes: ["light", "dark"], shots: folder or "",
//   turn: path or "", edits: [{page, file, text, wait}]}
// Stdout: {pages: [{path, scheme, errors, requests, axe: [{id, impact, help, nodes}], overflow}], turned: {...}, edits: [{ms, errors}]}
import { createRequire } from "node:module";
import { readFileSync, writeFileSync, mkdirSync, rmSync } from "node:fs";
import { join } from "node:path";

const ask = JSON.parse(readFileSync(0, "utf8"));
const require = createRequire(join(ask.modules, "x.js"));
const { chromium } = require("playwright-core");
const axe = ask.axe ? readFileSync(require.resolve("axe-core/axe.min.js"), "utf8") : "";

const browser = await chromium.launch({ executablePath: ask.chromium, args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--enable-unsafe-swiftshader", "--use-angle=swiftshader",
  "--disable-background-networking", "--disable-component-update", "--no-first-run", "--disable-sync", "--allow-file-access-from-files=false"] });

// hear notes everything that goes wrong on a page, and every address it asks for.
const hear = (page) => {
  const heard = { errors: [], requests: [] };
  page.on("console", (m) => { if (m.type() === "error" || m.type() === "warning" && /polic/i.test(m.text())) heard.errors.push(m.text()); });
  page.on("pageerror", (e) => heard.errors.push(String(e)));
  page.on("request", (r) => heard.requests.push(r.url()));
  page.on("requestfailed", (r) => { if (r.failure()?.errorText !== "net::ERR_ABORTED") heard.errors.push(r.url() + ": " + r.failure()?.errorText); });
  page.on("response", (r) => { if (r.status() >= 400 && !(ask.missing || []).some((p) => r.url().endsWith(p))) heard.errors.push(r.url() + ": " + r.status()); });
  return heard;
};

const settle = async (page) => {
  await page.evaluate(async () => { // pictures that load when they come into view
    for (const i of document.images) i.loading = "eager";
    await Promise.all([...document.images].map((i) => i.decode().catch(() => 0)));
  });
};

const out = { pages: [], edits: [] };
for (const scheme of ask.schemes || ["light"]) {
  const context = await browser.newContext({ viewport: { width: 1200, height: 900 }, colorScheme: scheme, bypassCSP: ask.axe === true });
  for (const path of ask.pages || []) {
    const page = await context.newPage();
    const heard = hear(page);
    await page.goto(new URL(path, ask.base).href, { waitUntil: "load", timeout: 100000 });
    await settle(page);
    const seen = { path, scheme, ...heard, axe: [], broken: await page.evaluate(() => [...document.images].filter((i) => !i.naturalWidth).map((i) => i.src)) };
    if (axe) {
      await page.evaluate(axe);
      seen.axe = await page.evaluate(async () => (await window.axe.run(document, { resultTypes: ["violations"] })).violations.map((v) => ({ id: v.id, impact: v.impact, help: v.help, nodes: v.nodes.slice(0, 3).map((n) => n.html.slice(0, 300)) })));
    }
    const name = scheme + "-" + path.replace(/\/?$/, "").replaceAll("/", "_").replace(/^$/, "index");
    if (ask.shots) await page.screenshot({ path: join(ask.shots, name + ".png"), fullPage: true });
    await page.setViewportSize({ width: 360, height: 740 });
    seen.overflow = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
    if (ask.shots) await page.screenshot({ path: join(ask.shots, name + "-phone.png"), fullPage: true });
    if (ask.shots && scheme === "light") {
      await page.setViewportSize({ width: 1200, height: 900 });
      await page.pdf({ path: join(ask.shots, name + ".pdf"), format: "A4", preferCSSPageSize: true });
    }
    out.pages.push(seen);
    await page.close();
  }
  await context.close();
}

// The policy bites only where it is not bypassed: without axe, each page once more.
if (ask.axe) {
  const context = await browser.newContext({ viewport: { width: 1200, height: 900 } });
  for (const path of ask.pages || []) {
    const page = await context.newPage();
    const heard = hear(page);
    await page.goto(new URL(path, ask.base).href, { waitUntil: "load", timeout: 100000 });
    await settle(page);
    out.pages.push({ path, scheme: "policy", ...heard, axe: [], broken: [], overflow: 0 });
    await page.close();
  }
  await context.close();
}

// turn opens one part, turns it by keys and by hand, and tells whether the drawing changed.
if (ask.turn) {
  for (const motion of ["no-preference", "reduce"]) {
    const context = await browser.newContext({ viewport: { width: 1200, height: 900 }, reducedMotion: motion });
    const page = await context.newPage();
    const heard = hear(page);
    await page.goto(new URL(ask.turn, ask.base).href, { waitUntil: "load", timeout: 100000 });
    const figure = page.locator("figure.solid").first();
    await figure.scrollIntoViewIfNeeded();
    await figure.getByRole("button", { name: /^Turn it/ }).click();
    const canvas = figure.locator("canvas");
    await canvas.waitFor({ timeout: 10000 }).catch(() => {});
    const turned = { motion, canvas: await canvas.count(), ...heard };
    if (turned.canvas) {
      await canvas.focus();
      await page.keyboard.press("Home"); // the ring of the focus is there from the first picture on
      await page.waitForTimeout(300);
      const shot = async () => (await canvas.screenshot()).toString("base64");
      const first = await shot();
      const drawn = async () => Number(await figure.getAttribute("data-drawn"));
      const before = await drawn();
      await page.keyboard.press("ArrowRight");
      await page.waitForTimeout(500);
      turned.frames = (await drawn()) - before;
      const keyed = await shot();
      const box = await canvas.boundingBox();
      await page.mouse.move(box.x + 100, box.y + 100);
      await page.mouse.down();
      await page.mouse.move(box.x + 180, box.y + 130, { steps: 4 });
      await page.mouse.up();
      await page.waitForTimeout(200);
      const dragged = await shot();
      await page.keyboard.press("+");
      await page.waitForTimeout(200);
      const nearer = await shot();
      await page.keyboard.press("Home");
      await page.waitForTimeout(300);
      const home = await shot();
      Object.assign(turned, { byKey: first !== keyed, byHand: keyed !== dragged, nearer: dragged !== nearer, home: first === home, sha: await figure.getAttribute("data-sha") });
      const colours = figure.locator("button[aria-pressed]");
      turned.colours = await colours.count();
      if (turned.colours > 1) {
        await colours.nth(1).click();
        await page.waitForTimeout(200);
        turned.recoloured = home !== (await shot());
      }
      if (ask.shots) await figure.screenshot({ path: join(ask.shots, "turned-" + motion + ".png") });
      await page.reload({ waitUntil: "load" });
      turned.still = await page.locator("figure.solid img").first().evaluate((i) => i.decode().then(() => i.naturalWidth));
      await figure.getByRole("button", { name: /^Turn it/ }).click();
      await canvas.waitFor();
      await canvas.focus();
      await page.keyboard.press("Escape");
      await page.waitForTimeout(100);
      turned.closed = (await canvas.count()) === 0;
    }
    (out.turned ||= []).push(turned);
    await context.close();
  }
  // Without WebGL, and without any script, the still picture stays.
  const context = await browser.newContext({ javaScriptEnabled: false });
  const page = await context.newPage();
  await page.goto(new URL(ask.turn, ask.base).href, { waitUntil: "load", timeout: 100000 });
  out.scriptless = { pictures: await page.locator("figure.solid img").count(), buttons: await page.getByRole("button", { name: /^Turn it/ }).count() };
  await context.close();
  const bare = await browser.newContext();
  const none = await bare.newPage();
  await none.addInitScript(() => { HTMLCanvasElement.prototype.getContext = () => null; });
  const heard = hear(none);
  await none.goto(new URL(ask.turn, ask.base).href, { waitUntil: "load" });
  const figure = none.locator("figure.solid").first();
  await figure.getByRole("button", { name: /^Turn it/ }).click();
  await figure.getByRole("status").waitFor();
  out.glless = { says: await figure.getByRole("status").textContent(), pictures: await figure.locator("img").count(), canvas: await figure.locator("canvas").count(), ...heard };
  await bare.close();
}

// edits change files under an open page and measure how long it takes until the page shows it.
for (const edit of ask.edits || []) {
  const context = await browser.newContext({ viewport: { width: 1200, height: 900 } });
  const page = await context.newPage();
  const heard = hear(page);
  page.setDefaultTimeout(100000); // on a machine that is busy with other tests
  const opened = page.waitForRequest((r) => r.url().includes("/changes?"));
  await page.goto(new URL(edit.page, ask.base).href, { waitUntil: "load", timeout: 100000 });
  await opened;
  await page.waitForFunction(() => !document.querySelector("[role=status]"), null, { timeout: 30000 }).catch(() => {});
  await page.waitForTimeout(400);
  const begin = performance.now();
  if (edit.remove) rmSync(edit.remove, { recursive: true });
  else if (edit.folder) mkdirSync(edit.folder);
  else writeFileSync(edit.file, edit.text);
  let ms = -1, why = "";
  try {
    await page.waitForFunction((wait) => document.body && document.body.innerText.includes(wait), edit.wait, { timeout: 60000, polling: 20 });
    ms = performance.now() - begin;
  } catch (e) { why = String(e) + "\n" + (await page.evaluate(() => document.body.innerText).catch(() => "")).slice(0, 1500); }
  out.edits.push({ page: edit.page, wait: edit.wait, ms, why, errors: heard.errors });
  await context.close();
}

await browser.close();
process.stdout.write(JSON.stringify(out));
