// The browser in which pages are tested, and how checks are counted.
//
// The browser is /usr/bin/chromium, or what $CHROMIUM names.

import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { createRequire } from "node:module";

// playwright-core may be installed elsewhere than beside this file: NODE_PATH is asked too.
const { chromium } = createRequire(import.meta.url)("playwright-core");

// A browser with a profile of its own: its page, and what closes both. Ends the process with 2 if it does not start.
export async function opened(options) {
  const profile = mkdtempSync(join(tmpdir(), "scaplane-page-"));
  const forget = () => rmSync(profile, { recursive: true, force: true });
  try {
    const browser = await chromium.launchPersistentContext(profile, {
      executablePath: process.env.CHROMIUM || "/usr/bin/chromium",
      headless: true,
      args: [
        "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
        "--disable-background-networking", "--disable-component-update", "--disable-sync",
      ],
      ...options,
    });
    const page = browser.pages()[0] ?? await browser.newPage();
    return { page, close: async () => { await browser.close(); forget(); } };
  } catch (error) {
    console.error(`the browser did not start: ${error.message}`);
    forget();
    process.exit(2);
  }
}

// Counts checks and prints one line for each.
export class Checks {
  passed = 0;
  failed = 0;

  told(what, wrong) {
    if (wrong) { this.failed += 1; } else { this.passed += 1; }
    console.log(wrong ? `FAIL ${what}: ${wrong}` : `ok   ${what}`);
  }

  // Runs a check that gives what is wrong, or nothing; one that throws has failed.
  async run(what, ask) {
    try {
      this.told(what, await ask());
    } catch (error) {
      this.told(what, error.message.split("\n")[0]);
    }
  }

  // Prints the sum and ends the process: with 1 if any check failed.
  end() {
    console.log(`${this.passed} passed, ${this.failed} failed`);
    process.exit(this.failed ? 1 : 0);
  }
}
