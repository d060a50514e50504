/**
 * The buttons that save a class: its table, and the reports and review pages of the visible rows.
 *
 * @import {Page} from "./batch.js"
 * @import {Measuring} from "./measuring.js"
 * @import {Progress} from "./progress.js"
 * @import {Roster} from "./roster.js"
 * @import {Row} from "./rows.js"
 * @import {Heard, Outcome} from "./save.js"
 * @import {Table} from "./table.js"
 * @import {Store} from "../core/state.js"
 */

import { saveTable, ZipMaker } from "./save.js";
import { byId } from "../base/dom.js";
import { bytes, counted, whole } from "../base/format.js";
import { asFailure } from "../core/problems.js";

export class Saving {
  #roster;
  #table;
  #measuring;
  #progress;
  #page;
  #maker = new ZipMaker();
  #tableButton = byId("class-save-table", HTMLButtonElement);
  #reports = byId("class-save-reports", HTMLButtonElement);
  #pages = byId("class-save-pages", HTMLButtonElement);
  #offer = byId("class-offer", HTMLElement);

  /**
   * @param {object} parts
   * @param {Store} parts.store
   * @param {Roster} parts.roster
   * @param {Table} parts.table
   * @param {Measuring} parts.measuring
   * @param {Progress} parts.progress
   * @param {Page} parts.page
   */
  constructor({ store, roster, table, measuring, progress, page }) {
    this.#roster = roster;
    this.#table = table;
    this.#measuring = measuring;
    this.#progress = progress;
    this.#page = page;
    this.#tableButton.addEventListener("click", () => {
      const rows = table.shown.toSorted((a, b) => a.at - b.at);
      progress.tell(`Saved ${saveTable(rows, roster.name)}, ${counted(rows.length, "row")}.`);
    });
    this.#reports.addEventListener(
      "click",
      () =>
        void this.#save("report", "Making reports", async (rows, heard) =>
          this.#maker.saveReports(rows, store.state.brief, roster.name, (await page.pages()).written, heard),
        ),
    );
    this.#pages.addEventListener("click", () => void this.#offerPages());
    byId("class-offer-take", HTMLButtonElement).addEventListener(
      "click",
      () =>
        void this.#save("review page", "Making review pages", async (rows, heard) =>
          this.#maker.savePages(rows, roster.name, (await page.pages()).make, heard),
        ),
    );
    byId("class-offer-leave", HTMLButtonElement).addEventListener("click", () => {
      this.#offer.hidden = true;
      this.#pages.focus();
    });
  }

  get busy() {
    return this.#maker.busy || this.#progress.making !== null;
  }

  /** Ends the running job. */
  stop() {
    this.#maker.stop();
  }

  /** The visible rows may have changed. */
  arranged() {
    const { shown } = this.#table;
    const part = shown.length === this.#roster.rows.length ? "" : ` (${whole(shown.length)})`;
    this.#tableButton.textContent = `Save table${part}`;
    this.#reports.textContent = `Save reports${part}`;
    this.#pages.textContent = `Save review pages${part}`;
    this.#offer.hidden = true;
    this.show();
  }

  /** Enables and disables the buttons. */
  show() {
    const { shown } = this.#table;
    this.#tableButton.disabled = this.#measuring.isRunning || this.#progress.making !== null || shown.length === 0;
    this.#reports.disabled = this.#pages.disabled = this.#tableButton.disabled || !shown.some(({ state }) => state === "measured");
    if (this.#pages.disabled) this.#offer.hidden = true;
  }

  /** Shows the size of the review pages before they are created. */
  async #offerPages() {
    const wanted = this.#table.measured;
    this.#progress.tell("");
    try {
      const size = await (await this.#page.pages()).bytes(wanted.map(({ source }) => source));
      byId("class-offer-text", HTMLElement).textContent =
        `${counted(wanted.length, "review page")}, about ${bytes(size)} in a zip. Each opens without this site: it holds the page itself, its model, and your notes and decisions on it.`;
      this.#offer.hidden = false;
      byId("class-offer-take", HTMLButtonElement).focus();
    } catch (error) {
      this.#progress.tell(`The review pages cannot be made. ${asFailure(error).message}`);
    }
  }

  /**
   * @param {string} what is made, one of it
   * @param {string} doing
   * @param {(rows: Row[], heard: Heard) => Promise<Outcome | null>} make
   */
  async #save(what, doing, make) {
    const wanted = this.#table.measured;
    this.#offer.hidden = true;
    this.#progress.tell("");
    this.#makes({ done: 0, of: wanted.length, doing });
    try {
      const made = await make(wanted, (done, of, now) => {
        this.#progress.making = { done, of, doing: now };
        this.#table.later();
      });
      this.#progress.tell(
        made
          ? `Saved ${made.file}, ${counted(made.made, what)}, ${bytes(made.bytes)}.${made.failed.length > 0 ? ` Not made: ${made.failed.join(" ")}` : ""}`
          : "Stopped. Nothing was saved.",
      );
    } catch (error) {
      this.#progress.tell(`The ${what}s could not be made. ${asFailure(error).message}`);
    } finally {
      this.#makes(null);
    }
  }

  /** @param {Progress["making"]} making */
  #makes(making) {
    this.#progress.making = making;
    this.#progress.show();
    this.show();
  }
}
