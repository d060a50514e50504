/**
 * What a teacher sets above the table and beside an open model: the rule for students' names, the list of
 * students, and grade and comment of the file that is open.
 *
 * @import {Mark} from "./memory.js"
 * @import {Row} from "./rows.js"
 * @import {Rule, RuleKind} from "./students.js"
 */

import { patternTrouble } from "./students.js";
import { byId } from "../base/dom.js";
import { counted, isolated, whole } from "../base/format.js";

/** Debounce of typing before the table is updated, ms. */
const TYPED_MS = 400;
/** Longest list of students, characters: as many names as a class may have files. */
const MOST_LIST = 100_000;

/**
 * The student of a row; empty if the file's name already says it.
 * @param {Row | null} row
 */
export function whose(row) {
  return row && row.source.name.replace(/\.obj$/i, "") !== row.student ? row.student : "";
}

/** @typedef {ReturnType<typeof startHead>} Head */

/** @param {{rule: (rule: Rule) => void, names: (names: string) => void, mark: (change: Partial<Mark>) => void}} heard */
export function startHead({ rule: ruled, names: listed, mark }) {
  const opener = byId("class-students-open", HTMLButtonElement);
  const panel = byId("class-students", HTMLElement);
  const by = byId("class-rule", HTMLSelectElement);
  const pattern = byId("class-pattern", HTMLInputElement);
  const patternLine = byId("class-pattern-line", HTMLElement);
  const list = byId("class-list", HTMLTextAreaElement);
  const facts = byId("class-students-facts", HTMLElement);
  const student = byId("class-student", HTMLElement);
  const marking = byId("class-marking", HTMLDetailsElement);
  const grade = byId("class-grade", HTMLInputElement);
  const comment = byId("class-comment", HTMLTextAreaElement);
  const note = byId("class-marking-note", HTMLElement);
  let typing = 0;

  opener.addEventListener("click", () => {
    panel.hidden = !panel.hidden;
    opener.ariaExpanded = String(!panel.hidden);
    if (!panel.hidden) by.focus();
  });
  by.addEventListener("change", chosen);
  pattern.addEventListener("input", () => later(chosen));
  list.maxLength = MOST_LIST;
  list.addEventListener("input", () => later(() => listed(list.value)));
  grade.addEventListener("input", () => mark({ grade: grade.value }));
  comment.addEventListener("input", () => mark({ comment: comment.value }));
  marking.addEventListener("toggle", () => (marking.open ? grade.focus() : undefined));
  marking.addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || !marking.open) return;
    event.stopPropagation();
    marking.open = false;
    marking.querySelector("summary")?.focus();
  });

  /** @param {() => void} then */
  function later(then) {
    clearTimeout(typing);
    typing = window.setTimeout(() => {
      typing = 0;
      then();
    }, TYPED_MS);
  }

  function chosen() {
    const isPattern = by.value === "pattern";
    patternLine.hidden = !isPattern;
    const trouble = isPattern ? patternTrouble(pattern.value) : "";
    pattern.setCustomValidity(trouble);
    if (trouble) facts.textContent = trouble;
    else ruled({ by: /** @type {RuleKind} */ (by.value), pattern: pattern.value });
  }

  return {
    /**
     * @param {Rule} rule
     * @param {string} names
     * @param {{students: number, missing: number, listed: number}} found
     * @param {boolean} lasting whether settings are stored beyond the tab
     */
    show(rule, names, found, lasting) {
      note.textContent = lasting
        ? "Kept in this browser alone, and in the table that is saved."
        : "Gone when the page is left, since only a folder or a zip has a name to be known by: save the table.";
      by.value = rule.by;
      patternLine.hidden = rule.by !== "pattern";
      if (document.activeElement !== pattern && rule.pattern) pattern.value = rule.pattern;
      if (document.activeElement !== list) list.value = names;
      const missing =
        found.listed === 0
          ? ""
          : found.missing === 0
            ? " Nobody on the list is missing."
            : ` Missing: ${whole(found.missing)} of ${whole(found.listed)} on the list.`;
      facts.textContent = `${counted(found.students, "student")}.${missing}`;
    },
    /** @param {Row | null} row that is open */
    tell(row) {
      const name = whose(row);
      student.textContent = isolated(name);
      student.title = name;
      student.hidden = name === "";
      marking.hidden = row === null;
      if (!row) marking.open = false;
      else if (!marking.contains(document.activeElement) || document.activeElement?.tagName === "SUMMARY")
        [grade.value, comment.value] = [row.mark.grade, row.mark.comment];
    },
    get busy() {
      return typing !== 0;
    },
  };
}
