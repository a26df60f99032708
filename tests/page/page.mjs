// Opens a review page in a browser and uses it as a reader would.
//
//   node page.mjs PAGE.html
//
// The browser is /usr/bin/chromium, or what $CHROMIUM names. Prints one line a check and `N passed, N failed`;
// exits with 1 if any check failed, with 2 if the page or the browser could not be opened.

import { existsSync } from "node:fs";
import { resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { Checks, opened } from "./browser.mjs";

const path = process.argv[2];
if (!path || !existsSync(path)) {
  console.error("usage: node page.mjs PAGE.html, a page that exists");
  process.exit(2);
}
const address = pathToFileURL(resolve(path)).href;
const said = [];
const asked = [];
const checks = new Checks();

const check = (what, ask) => checks.run(what, ask);

const { page, close } = await opened({
  viewport: { width: 1200, height: 900 },
});
page.on("console", (message) => {
  if (["error", "warning"].includes(message.type())) { said.push(message.text()); }
});
page.on("pageerror", (error) => said.push(error.message));
page.on("request", (request) => asked.push(request.url()));

const slider = () => page.locator("#scrub").evaluate((input) => Number(input.value));
const last = () => page.locator("#scrub").evaluate((input) => Number(input.max));
// Where the moving line of the visible curve over time stands, in its own units.
const cursor = () => page.locator("svg.chart[data-cursor=time]:visible .cursor").first()
  .evaluate((line) => Number(line.getAttribute("x1")));
const limbs = () => page.locator("#figure line").evaluateAll((lines) =>
  lines.map((line) => ["x1", "y1", "x2", "y2"].map((name) => line.getAttribute(name)).join(" ")).join(";"));
const clock = () => page.locator("#clock").textContent();
async function to(value) {
  await page.locator("#scrub").evaluate((input, wanted) => {
    input.value = String(wanted);
    input.dispatchEvent(new Event("input", { bubbles: true }));
  }, value);
}
const wide = () => page.evaluate(() => ({
  page: document.documentElement.scrollWidth, window: document.documentElement.clientWidth,
}));

try {
  await page.goto(address);

  await check("the page has a title and a headline", async () => {
    const headline = await page.locator(".headline").textContent();
    return /repetition/.test(headline) && (await page.title()) ? "" : `headline: ${headline}`;
  });

  await check("the findings come before the curves", () => page.evaluate(() => {
    const before = (a, b) => document.querySelector(a).compareDocumentPosition(document.querySelector(b))
      & Node.DOCUMENT_POSITION_FOLLOWING;
    return before("#findings", "#curves") && before("#curves", "#repetitions") ? "" : "another order";
  }));

  await check("a click on the first finding moves slider, cursor and figure", async () => {
    await to(0);
    const before = [await slider(), await cursor(), await limbs()];
    // The first one on the page is the first finding's; without a finding it is the first repetition's.
    const button = page.locator("button.jump").first();
    const said_by = await button.textContent();
    await button.click();
    const after = [await slider(), await cursor(), await limbs()];
    const still = ["slider", "cursor", "figure"].filter((_, i) => before[i] === after[i]);
    if (still.length) { return `${still.join(", ")} did not move`; }
    const moment = said_by.match(/\d\d:\d\d\.\d|frame \d+/)?.[0];
    const shown = await clock();
    if (!moment) { return `the button names no moment: ${said_by}`; }
    // Thirty frames a second are kept, so the nearest one is within a tenth of a second.
    const seconds = (text) => { const [m, s] = text.split(":"); return 60 * Number(m) + Number(s); };
    const near = moment.startsWith("frame")
      ? Math.abs(Number(shown.match(/frame (\d+)/)?.[1]) - Number(moment.slice(6))) <= 4
      : Math.abs(seconds(shown.match(/\d\d:\d\d\.\d/)?.[0] ?? "99:99.9") - seconds(moment)) <= 0.11;
    if (!near) { return `the button says ${moment}, the clock ${shown}`; }
    return (await button.getAttribute("aria-current")) === "true" ? "" : "the button is not marked as current";
  });

  await check("every finding's button leads to another moment of the slider's range", async () => {
    const buttons = page.locator("#findings button.jump");
    const end = await last();
    for (let i = 0; i < await buttons.count(); i += 1) {
      await to(0);
      await buttons.nth(i).click();
      const value = await slider();
      if (!(value > 0 && value <= end)) { return `button ${i + 1} leads to ${value} of ${end}`; }
    }
    return "";
  });

  await check("arrow keys move the slider, and with it cursor and figure", async () => {
    await to(Math.round(await last() / 2));
    await page.locator("#scrub").focus();
    const before = [await slider(), await cursor()];
    await page.keyboard.press("ArrowRight");
    await page.keyboard.press("ArrowRight");
    const after = [await slider(), await cursor()];
    if (after[0] !== before[0] + 2 || !(after[1] > before[1])) { return `from ${before} to ${after}`; }
    await page.keyboard.press("ArrowLeft");
    return (await slider()) === before[0] + 1 ? "" : "the left arrow does not go back";
  });

  await check("one frame back and one frame on", async () => {
    await to(10);
    await page.locator("#on").click();
    const on = await slider();
    await page.locator("#back").click();
    await page.locator("#back").click();
    return on === 11 && (await slider()) === 9 ? "" : `on ${on}, back ${await slider()}`;
  });

  await check("play moves on, pause holds still", async () => {
    await to(0);
    const button = page.locator("#play");
    await button.click();
    if ((await button.textContent()) !== "Pause") { return "the button does not say Pause"; }
    await page.waitForFunction(() => Number(document.getElementById("scrub").value) > 5, null, { timeout: 5000 });
    await button.click();
    const held = await slider();
    await page.waitForTimeout(400);
    if ((await slider()) !== held) { return "it goes on after the pause"; }
    return (await button.textContent()) === "Play" ? "" : "the button does not say Play";
  });

  await check("play reaches the end and stops there", async () => {
    const end = await last();
    await to(end - 5);
    await page.locator("#play").click();
    await page.waitForFunction((wanted) => Number(document.getElementById("scrub").value) === wanted, end, { timeout: 5000 });
    await page.waitForTimeout(100);
    return (await page.locator("#play").textContent()) === "Play" ? "" : "it still says Pause";
  });

  await check("a click on the curve moves the slider to that moment", async () => {
    await to(0);
    const box = await page.locator("svg.chart[data-cursor=time]:visible").first().boundingBox();
    await page.locator("svg.chart[data-cursor=time]:visible").first().click({ position: { x: box.width / 2, y: box.height / 2 } });
    const share = (await slider()) / (await last());
    return share > 0.4 && share < 0.6 ? "" : `at ${share.toFixed(2)} of the clip`;
  });

  await check("every button, slider and list has a name, and focus can be seen", () => page.evaluate(() => {
    const named = (element) => element.getAttribute("aria-label") || element.textContent.trim() || element.labels?.length;
    const nameless = [...document.querySelectorAll("button, input, select, summary, a[href]")].filter((e) => !named(e));
    if (nameless.length) { return `no name: ${nameless[0].outerHTML.slice(0, 80)}`; }
    const drawings = [...document.querySelectorAll("svg:not([aria-hidden])")].filter((s) => !s.getAttribute("aria-label"));
    if (drawings.length) { return `${drawings.length} drawings without a name`; }
    const ids = [...document.querySelectorAll("[id]")].map((e) => e.id);
    const twice = ids.filter((id, i) => ids.indexOf(id) !== i);
    return twice.length ? `ids used twice: ${twice}` : "";
  }));

  await check("the keyboard reaches the findings first, with a visible focus", async () => {
    await page.reload();
    await page.keyboard.press("Tab");
    const first = await page.evaluate(() => document.activeElement.className);
    if (first !== "skip") { return `first stop: ${first}`; }
    await page.keyboard.press("Tab");
    const second = await page.evaluate(() => {
      const style = getComputedStyle(document.activeElement);
      return { inside: Boolean(document.activeElement.closest("#findings, #replay")), outline: style.outlineStyle, width: style.outlineWidth };
    });
    return second.inside && second.outline !== "none" && parseFloat(second.width) >= 2 ? "" : JSON.stringify(second);
  });

  await check("text keeps a contrast of 4.5 to 1", () => page.evaluate(() => {
    const parts = (colour) => colour.match(/[\d.]+/g).map(Number);
    const light = (colour) => {
      const [r, g, b] = parts(colour).map((v) => v / 255).map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4));
      return 0.2126 * r + 0.7152 * g + 0.0722 * b;
    };
    const ground = (element) => {
      for (let e = element; e; e = e.parentElement) {
        const colour = getComputedStyle(e).backgroundColor;
        if (parts(colour)[3] !== 0) { return colour; }
      }
      return "rgb(255, 255, 255)";
    };
    const weak = [...document.querySelectorAll("body *:not(script):not(style)")].filter((e) =>
      [...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim()) && e.checkVisibility() && !e.closest("svg")
    ).map((e) => {
      const [a, b] = [light(getComputedStyle(e).color), light(ground(e))].sort((x, y) => y - x);
      return [(a + 0.05) / (b + 0.05), e.textContent.trim().slice(0, 40)];
    }).filter(([ratio]) => ratio < 4.5);
    return weak.length ? `${weak[0][0].toFixed(2)}: ${weak[0][1]}` : "";
  }));

  await check("printing shows every reading and hides the controls", async () => {
    const closed = await page.locator("details:not([open])").count();
    await page.emulateMedia({ media: "print" });
    await page.evaluate(() => dispatchEvent(new Event("beforeprint")));
    const shown = await page.evaluate(() => ({
      shut: document.querySelectorAll("details:not([open])").length,
      hidden: [...document.querySelectorAll("details table")].filter((t) => !t.checkVisibility()).length,
      tables: document.querySelectorAll("details table").length,
      controls: [...document.querySelectorAll(".controls, .jump, .skip")].filter((e) => e.checkVisibility()).length,
    }));
    await page.evaluate(() => dispatchEvent(new Event("afterprint")));
    await page.emulateMedia({ media: null });
    const again = await page.locator("details:not([open])").count();
    if (shown.tables === 0 || shown.shut || shown.hidden || shown.controls) { return JSON.stringify(shown); }
    return again === closed && closed > 0 ? "" : `${closed} closed before, ${again} after`;
  });

  await check("the first printed sheet holds the findings, no empty one comes before", async () => {
    await page.emulateMedia({ media: "print" });
    await page.setViewportSize({ width: 688, height: 1000 });
    const top = await page.locator("#findings").evaluate((e) => e.getBoundingClientRect().top + scrollY);
    const overlap = await page.evaluate(() => {
      const replay = document.getElementById("replay")?.getBoundingClientRect();
      const box = (e) => { const r = document.createRange(); r.selectNodeContents(e); return r.getBoundingClientRect(); };
      return replay ? [...document.querySelectorAll("#findings p, #drift p")].map(box).filter((p) =>
        p.right > replay.left + 1 && p.top < replay.bottom && p.bottom > replay.top).length : 0;
    });
    await page.emulateMedia({ media: null });
    await page.setViewportSize({ width: 1200, height: 900 });
    return top < 300 && overlap === 0 ? "" : `findings at ${top} px, ${overlap} lines under the figure`;
  });

  for (const width of [390, 320, 768]) {
    await check(`no sideways scrolling at ${width} px`, async () => {
      await page.setViewportSize({ width, height: 844 });
      const at = await wide();
      return at.page <= at.window ? "" : `${at.page} px in ${at.window}`;
    });
  }

  await check("on a phone the curve over time is the narrow one and its cursor moves", async () => {
    await page.setViewportSize({ width: 390, height: 844 });
    await to(0);
    const before = await cursor();
    await page.locator("button.jump").first().click();
    const narrow = await page.locator("svg.chart.narrow:visible").count();
    const onscreen = await page.locator("#figure").evaluate((e) => {
      const box = e.getBoundingClientRect();
      return box.bottom > 0 && box.top < innerHeight;
    });
    if (!onscreen) { return "the figure is not on the screen"; }
    return narrow > 0 && (await cursor()) !== before ? "" : `${narrow} narrow curves, cursor at ${before}`;
  });

  await check("without a script the page still says its findings", async () => {
    const bare = await page.context().browser()?.newContext({ javaScriptEnabled: false });
    const sheet = bare ? await bare.newPage() : null;
    if (!sheet) { return "no second context"; }
    sheet.on("request", (request) => asked.push(request.url()));
    await sheet.goto(address);
    const worst = await sheet.locator(".no-script").first().isVisible();
    const figure = await sheet.locator("#figure line[x1]").count();
    const controls = await sheet.locator(".controls").isVisible();
    await bare.close();
    return worst && figure > 3 && !controls ? "" : `moment ${worst}, ${figure} bones, controls ${controls}`;
  });

  await check("nothing was asked for but the file itself", () => {
    const other = asked.filter((url) => !url.startsWith("file:") && !url.startsWith("data:"));
    return asked.length > 0 && other.length === 0 ? "" : `asked for ${other.join(", ") || "nothing at all"}`;
  });

  await check("the console holds no error", () => said.join("; "));
} finally {
  await close();
}
checks.end();
