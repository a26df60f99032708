// Plays the film beside a review page as a reader would.
//
//   node film.mjs PAGE.html [SCREENSHOT.png]
//
// The browser is /usr/bin/chromium, or what $CHROMIUM names. Prints one line a check and `N passed, N failed`;
// exits with 1 if any check failed, with 2 if the page or the browser could not be opened.

import { existsSync } from "node:fs";
import { resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { Checks, opened } from "./browser.mjs";

const [path, shot] = process.argv.slice(2);
if (!path || !existsSync(path)) {
  console.error("usage: node film.mjs PAGE.html, a page that exists");
  process.exit(2);
}
const asked = [];
const said = [];
const checks = new Checks();

const check = (what, ask) => checks.run(what, ask);

const { page, close } = await opened({
  viewport: { width: 1200, height: 1000 },
});
page.on("request", (request) => asked.push(request.url()));
page.on("pageerror", (error) => said.push(error.message));

const film = (ask) => page.locator("#film").evaluate(ask);
const at = () => film((video) => video.currentTime);
// Seconds of the moment at which the slider stands, by the page's own list of times.
const clock = () => page.evaluate(() => {
  const steps = JSON.parse(document.getElementById("series").textContent).times_ms;
  const upto = Number(document.getElementById("scrub").value);
  return steps.slice(0, upto + 1).reduce((sum, step) => sum + step, 0) / 1000;
});
const late = () => film((video) => Number(video.dataset.offset));
async function to(value) {
  await page.locator("#scrub").evaluate((input, wanted) => {
    input.value = String(wanted);
    input.dispatchEvent(new Event("input", { bubbles: true }));
  }, value);
}
const settled = () => page.waitForFunction(() => !document.getElementById("film").seeking);
// Thirty pictures a second: the one that is shown is that of the page's moment.
const PICTURE_S = 1 / 30;
async function together() {
  await settled();
  const [shown, told, offset] = [await at(), await clock(), await late()];
  const off = shown - offset - told;
  return off > -0.001 && off < PICTURE_S ? "" : `the film is at ${shown} s, the page at ${told} s, offset ${offset} s`;
}
// The picture that is shown.
const picture = () => page.locator("#film").screenshot();

try {
  await page.goto(pathToFileURL(resolve(path)).href);

  await check("the film is loaded, and as long as the clip", async () => {
    await page.waitForFunction(() => document.getElementById("film").readyState >= 2, null, { timeout: 20000 });
    const [seconds, width] = await film((video) => [video.duration, video.videoWidth]);
    await to(await page.locator("#scrub").evaluate((input) => Number(input.max)));
    const end = (await clock()) + (await late());
    return width > 0 && Math.abs(seconds - end) < 0.2 ? "" : `${seconds} s, ${width} pixels wide, the clip ends at ${end} s`;
  });

  await check("the slider moves the film to the same moment", async () => {
    const end = await page.locator("#scrub").evaluate((input) => Number(input.max));
    for (const share of [0, 0.3, 0.77, 1]) {
      await to(Math.round(share * end));
      const wrong = await together();
      if (wrong) { return wrong; }
    }
    return "";
  });

  await check("every finding moves the film to its moment", async () => {
    const buttons = page.locator("#findings button.jump");
    const count = await buttons.count();
    if (count === 0) { return "the page has no finding"; }
    const moments = new Set();
    for (let i = 0; i < count; i += 1) {
      await to(0);
      await settled();
      await buttons.nth(i).click();
      const wrong = await together();
      if (wrong) { return `${await buttons.nth(i).textContent()}: ${wrong}`; }
      moments.add((await at()).toFixed(2));
    }
    return moments.has("0.00") ? "a finding leads to the beginning" : "";
  });

  await check("while it plays the film leads and the slider follows; paused, both stand", async () => {
    await to(0);
    await settled();
    await page.locator("#play").click();
    await page.waitForFunction(() => document.getElementById("film").currentTime > 0.7, null, { timeout: 10000 });
    const playing = await film((video) => !video.paused);
    await page.locator("#play").click();
    const paused = await film((video) => video.paused);
    const wrong = await together();
    const before = await at();
    await page.waitForTimeout(300);
    const after = await at();
    if (!playing || !paused) { return `playing ${playing}, paused ${paused}`; }
    return wrong || (before === after ? "" : `it went on from ${before} to ${after}`);
  });

  await check("the picture shown is that of the moment", async () => {
    const shots = [];
    for (const frame of [5, 200, 5]) {
      await to(frame);
      await settled();
      await page.waitForTimeout(200);
      shots.push(await picture());
    }
    if (shots[0].equals(shots[1])) { return "the same picture at two moments"; }
    return shots[0].equals(shots[2]) ? "" : "two pictures of one moment";
  });

  if (shot) {
    await page.locator("#findings button.jump").first().click();
    await settled();
    await page.waitForTimeout(300);
    await page.screenshot({ path: shot });
  }

  await check("nothing is asked for but the page and the film beside it", async () => {
    const own = new URL(".", pathToFileURL(resolve(path))).href;
    const known = ["review.html", "overlay.mp4"].map((name) => own + name);
    const others = asked.filter((url) => !known.includes(url.split("#")[0]) && !url.startsWith("data:"));
    return others.length ? others[0] : "";
  });

  await check("no error was said", async () => said[0] ?? "");
} finally {
  await close();
}
checks.end();
