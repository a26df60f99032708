// Looks at every page as people with other eyes, hands and phones do: axe-core, light and dark, narrow and wide.
//
//   node reach.mjs PAGE.html...
//
// The browser is /usr/bin/chromium, or what $CHROMIUM names. Prints one line a check and `N passed, N failed`;
// exits with 1 if any check failed, with 2 if a page or the browser could not be opened.

import { existsSync, readFileSync } from "node:fs";
import { basename, join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { createRequire } from "node:module";
import { Checks, opened } from "./browser.mjs";

// axe-core may be installed elsewhere than beside this file: NODE_PATH is asked too.
const require = createRequire(import.meta.url);
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");

const paths = process.argv.slice(2);
if (!paths.length || !paths.every((path) => existsSync(path))) {
  console.error("usage: node reach.mjs PAGE.html..., pages that exist");
  process.exit(2);
}
const checks = new Checks();
const check = (what, wrong) => checks.told(what, wrong);

const { page, close } = await opened({
  // The pages' own policy forbids the script that looks at them.
  bypassCSP: true,
});
const asked = [];
const said = [];
page.on("request", (request) => asked.push(request.url()));
page.on("pageerror", (error) => said.push(error.message));
page.on("console", (message) => { if (message.type() === "error") { said.push(message.text()); } });

// One violation in a line: rule, impact, the first element it is about.
async function violations() {
  await page.evaluate(axe);
  const found = await page.evaluate(async () => {
    const result = await axe.run(document, { resultTypes: ["violations"] });
    return { rules: result.passes.length, wrong: result.violations.map((v) => `${v.id} (${v.impact}) at ${v.nodes[0].target}`) };
  });
  return found.rules < 10 ? `only ${found.rules} rules applied` : found.wrong.join("; ");
}

try {
  for (const path of paths) {
    const name = join(basename(resolve(path, "..")), basename(path));
    const address = pathToFileURL(resolve(path)).href;
    await page.goto(address);
    const dark = await page.evaluate(() => document.querySelector("style").textContent.includes("prefers-color-scheme: dark"));
    for (const colorScheme of dark ? ["light", "dark"] : ["light"]) {
      await page.emulateMedia({ colorScheme });
      for (const width of [390, 1200]) {
        await page.setViewportSize({ width, height: 844 });
        check(`${name}: axe finds nothing, ${colorScheme}, ${width} px`, await violations());
      }
    }
    // What is folded away is there too.
    const folded = await page.evaluate(() => {
      const all = [...document.querySelectorAll("details")];
      all.slice(0, 2).forEach((details) => { details.open = true; });
      return all.length;
    });
    if (folded) { check(`${name}: axe finds nothing in what was folded`, await violations()); }
    await page.emulateMedia({ colorScheme: "light" });
    for (const width of [320, 390, 768]) {
      await page.setViewportSize({ width, height: 844 });
      const [wide, window] = await page.evaluate(() => [document.documentElement.scrollWidth, document.documentElement.clientWidth]);
      check(`${name}: no sideways scrolling at ${width} px`, wide > window ? `${wide} px in ${window}` : "");
    }
    await page.setViewportSize({ width: 390, height: 844 });
    // A column too narrow for its words breaks them where no hyphen is.
    const broken = await page.evaluate(() => {
      const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
      const range = document.createRange();
      while (texts.nextNode()) {
        const text = texts.currentNode;
        if (!text.parentElement.checkVisibility() || text.parentElement.closest("svg, script, style")) { continue; }
        for (const word of text.data.matchAll(/(?<![\p{L}\p{N}\p{P}])\p{L}{2,}(?![\p{L}\p{N}_/.-])/gu)) {
          range.setStart(text, word.index);
          range.setEnd(text, word.index + word[0].length);
          if (new Set([...range.getClientRects()].map((line) => Math.round(line.top))).size > 1) { return word[0]; }
        }
      }
      return "";
    });
    check(`${name}: no word is broken at 390 px`, broken);
    if (name.endsWith("selfcheck.html")) {
      const small = await page.evaluate(() => [...document.querySelectorAll("body *")]
        .filter((e) => [...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim()) && e.checkVisibility())
        .map((e) => parseFloat(getComputedStyle(e).fontSize)).reduce((a, b) => Math.min(a, b), 99));
      check(`${name}: no text below 16 px on a phone`, small < 16 ? `${small} px` : "");
      const order = await page.evaluate(() => [...document.querySelectorAll("section")].map((s) => s.id).join(" "));
      check(`${name}: count, change, praise, unseen, stop in this order`,
        /^(pain )?seen change praise unseen (phone )?stop$/.test(order) ? "" : order);
      const focus = await page.evaluate(() => document.querySelectorAll("a[href], button, input, [tabindex]").length);
      check(`${name}: nothing needs a key or a pointer`, focus ? `${focus} things to operate` : "");
    }
    await page.emulateMedia({ media: "print" });
    await page.setViewportSize({ width: 688, height: 1000 });
    const printed = await page.evaluate(() => {
      const cut = [...document.querySelectorAll("body *:not(script):not(style)")].filter((e) => e.checkVisibility() && !e.closest(".skip, .unseen-label, svg") && e.getBoundingClientRect().right > innerWidth + 1);
      const headings = [...document.querySelectorAll("h2")].filter((e) => !e.checkVisibility()).length;
      return cut.length ? `${cut[0].tagName} is cut off` : headings ? `${headings} headings are hidden` : "";
    });
    check(`${name}: nothing is cut off in print`, printed);
    await page.emulateMedia({ media: null });
    if (name.endsWith("note.html")) {
      const sheet = (await page.pdf({ preferCSSPageSize: true })).toString("latin1");
      const pages = (sheet.match(/\/Type\s*\/Page\b/g) ?? []).length;
      check(`${name}: one printed page`, pages === 1 ? "" : `${pages} pages`);
    }
  }
  const other = asked.filter((url) => !url.startsWith("file:") && !url.startsWith("data:"));
  check("nothing was asked for but the files themselves", asked.length < paths.length ? "nothing at all" : other.join(", "));
  check("the console holds no error", said.join("; "));
} finally {
  await close();
}
checks.end();
