// The plan's editor. It lets a text be brought up to date under the hands of whoever types in it.
import * as cm from "../vendor/codemirror.js";
import { optionsAt } from "./plan_complete.js";
import { differences } from "./plan_text.js";
import { words } from "./words.js";

const theme = cm.EditorView.theme({
  "&": { color: "var(--ink)", backgroundColor: "var(--sheet)", fontSize: ".95rem", maxHeight: "68vh" },
  "&.cm-focused": { outline: "3px solid var(--focus)", outlineOffset: "-3px" },
  ".cm-scroller": { fontFamily: "var(--mono)", lineHeight: "1.5", overflow: "auto" },
  ".cm-content": { caretColor: "var(--ink)", padding: "8px 0" },
  ".cm-cursor, .cm-dropCursor": { borderLeftColor: "var(--ink)", borderLeftWidth: "2px" },
  ".cm-gutters": { backgroundColor: "var(--sheet)", color: "var(--soft)", border: "0" },
  ".cm-activeLine, .cm-activeLineGutter": { backgroundColor: "color-mix(in srgb, var(--line) 35%, transparent)" },
  ".cm-activeLineGutter": { color: "var(--ink)" },
  "&.cm-focused > .cm-scroller > .cm-selectionLayer .cm-selectionBackground, .cm-selectionBackground": { backgroundColor: "var(--mark)" },
  ".cm-searchMatch, .cm-selectionMatch": { backgroundColor: "var(--mark)", outline: "0" },
  ".cm-searchMatch-selected": { outline: "2px solid var(--ink)" },
  ".cm-panels": { backgroundColor: "var(--paper)", color: "var(--ink)", borderColor: "var(--line-strong)" },
  ".cm-panels input, .cm-panels button": { minHeight: "var(--touch)", fontSize: "1rem" },
  ".cm-panels label": { display: "inline-flex", minHeight: "var(--touch)", alignItems: "center", gap: "6px", fontSize: ".9rem" },
  ".cm-panels .cm-button": { background: "transparent", color: "var(--ink)", border: "1.5px solid var(--ink)", borderRadius: "var(--r)" },
  ".cm-panels .cm-textfield": { background: "var(--sheet)", color: "var(--ink)", border: "1.5px solid var(--edge)" },
  ".cm-panels button[name=close]": { minWidth: "var(--touch)", fontSize: "1.3rem", color: "var(--ink)" },
  ".cm-tooltip": { backgroundColor: "var(--sheet)", color: "var(--ink)", border: "1.5px solid var(--line-strong)", maxWidth: "min(34rem, 90vw)" },
  ".cm-tooltip-autocomplete > ul": { fontFamily: "var(--mono)" },
  ".cm-tooltip-autocomplete > ul > li": { padding: "6px 10px" },
  ".cm-tooltip-autocomplete > ul > li[aria-selected]": { backgroundColor: "var(--ink)", color: "var(--paper)" },
  ".cm-completionDetail": { fontStyle: "normal" },
  ".cm-diagnostic-error": { borderLeft: "6px solid var(--stop)", padding: "6px 10px" },
  ".cm-lintRange-error": { backgroundImage: "none", textDecoration: "underline wavy var(--stop)", textUnderlineOffset: "3px" },
  ".cm-lint-marker": { content: "''", width: ".7em", height: ".7em", backgroundColor: "var(--stop)", margin: ".35em .15em 0" },
  ".cm-foldPlaceholder": { background: "transparent", color: "var(--soft)", borderColor: "var(--edge)" },
});

const ink = cm.HighlightStyle.define([
  { tag: [cm.tags.propertyName, cm.tags.definition(cm.tags.propertyName)], fontWeight: "600" },
  { tag: [cm.tags.comment, cm.tags.lineComment], color: "var(--soft)" },
  { tag: [cm.tags.string, cm.tags.content, cm.tags.special(cm.tags.string)], color: "var(--link)" },
  { tag: [cm.tags.punctuation, cm.tags.separator, cm.tags.squareBracket], color: "var(--soft)" },
]);

// Left to itself Chromium joins the ends of a selection over several lines by writing the style of one into a span of the
// other; the page's rules refuse that, and say so each time. The editor makes the change in its own text instead.
const overLines = cm.EditorView.domEventHandlers({
  beforeinput(event, view) {
    const { from, to } = view.state.selection.main;
    const text = { insertText: event.data, deleteContentBackward: "", deleteContentForward: "" }[event.inputType] ?? null;
    if (text === null || !event.cancelable || event.isComposing || view.state.readOnly) return false;
    if (view.state.doc.lineAt(from).to >= to) return false;
    event.preventDefault();
    const plainly = () => view.state.update(view.state.replaceSelection(text), {
      userEvent: text ? "input.type" : "delete.selection", scrollIntoView: true,
    });
    const taken = text && view.state.facet(cm.EditorView.inputHandler).some((each) => each(view, from, to, text, plainly));
    if (!taken) view.dispatch(plainly());
    return true;
  },
});

function phrases() {
  const told = (key) => words(`plan.${key}`);
  return {
    Find: told("find"), Replace: told("replace"), replace: told("replace"), "replace all": told("replace_all"), next: told("next"),
    previous: told("previous"), all: told("all"), "match case": told("match_case"), "by word": told("by_word"), regexp: told("regexp"), close: told("close"),
  };
}

/**
 * @param {HTMLElement} parent
 * @param {{text: string, label: string, keys: string, mayEdit: boolean, schema: () => Promise<object>, changed: () => void}} given
 */
export function mountEditor(parent, given) {
  let since = null; // what was typed since a text was sent
  const complete = async (context) => {
    const schema = await given.schema();
    const line = context.state.doc.lineAt(context.pos);
    if (!schema || (!context.explicit && !/[\w:,[\s-]$/.test(line.text.slice(0, context.pos - line.from)))) return null;
    const found = optionsAt(schema, context.state.doc.toString().split("\n"), line.number - 1, context.pos - line.from);
    if (!found || (!context.explicit && context.pos === line.from + found.from && !/:\s*$/.test(context.state.sliceDoc(line.from, context.pos)))) return null;
    return { from: line.from + found.from, options: found.options, validFor: /^[\w.-]*$/ };
  };
  const editing = given.mayEdit
    ? [
        overLines, cm.history(), cm.closeBrackets(), cm.autocompletion({ override: [complete], icons: false }), cm.lintGutter(),
        cm.keymap.of([...cm.closeBracketsKeymap, ...cm.completionKeymap, ...cm.lintKeymap, ...cm.historyKeymap, cm.indentWithTab]),
      ]
    : [cm.EditorState.readOnly.of(true), cm.EditorView.editable.of(false)];
  const view = new cm.EditorView({
    parent,
    state: cm.EditorState.create({
      doc: given.text,
      extensions: [
        cm.lineNumbers(), cm.foldGutter(), cm.highlightSpecialChars(), cm.drawSelection(), cm.highlightActiveLine(),
        cm.highlightActiveLineGutter(), cm.highlightSelectionMatches(), cm.search({ top: true }), cm.yaml(), cm.indentUnit.of("  "),
        cm.syntaxHighlighting(ink), theme, cm.EditorView.lineWrapping, cm.EditorState.phrases.of(phrases()), ...editing,
        cm.keymap.of([...cm.searchKeymap, ...cm.foldKeymap, ...cm.defaultKeymap]),
        cm.EditorView.contentAttributes.of({
          "aria-label": given.label, "aria-describedby": given.keys, role: "textbox", "aria-multiline": "true", tabindex: "0",
          ...(given.mayEdit ? { autocapitalize: "off", autocorrect: "off", spellcheck: "false" } : { "aria-readonly": "true" }),
        }),
        cm.EditorView.updateListener.of((update) => {
          if (!update.docChanged) return;
          if (since) since = since.compose(update.changes);
          given.changed();
        }),
      ],
    }),
  });
  const quietly = [cm.Transaction.addToHistory.of(false), cm.Transaction.remote.of(true)];
  return {
    text: () => view.state.doc.toString(),
    /** The text becomes another one; the cursor stays where it is. */
    replace(text, { undoable = false } = {}) {
      view.dispatch({ changes: differences(view.state.doc.toString(), text), annotations: undoable ? [] : quietly });
    },
    /** A text is on its way; what is typed from now on is laid over what comes of it. */
    sent(text) {
      const now = view.state.doc.toString();
      since = cm.ChangeSet.of(differences(text, now), text.length);
    },
    /** What was sent has become ``merged``; what was typed since stays. */
    settled(sent, merged) {
      const come = cm.ChangeSet.of(differences(sent, merged), sent.length);
      const typed = since ?? cm.ChangeSet.empty(sent.length);
      since = null;
      view.dispatch({ changes: come.map(typed), annotations: quietly });
    },
    refused() {
      since = null;
    },
    mark(mistakes) {
      const last = view.state.doc.lines;
      const told = mistakes.map(({ line, sentence }) => {
        const at = view.state.doc.line(Math.min(Math.max(line, 1), last));
        const lead = at.text.length - at.text.trimStart().length;
        return { from: at.from + (lead === at.length ? 0 : lead), to: at.to, severity: "error", message: sentence };
      });
      view.dispatch(cm.setDiagnostics(view.state, told.sort((a, b) => a.from - b.from)));
    },
    goTo(line) {
      const at = view.state.doc.line(Math.min(Math.max(line, 1), view.state.doc.lines));
      view.dispatch({ selection: { anchor: at.from + (at.text.length - at.text.trimStart().length) }, effects: cm.EditorView.scrollIntoView(at.from, { y: "start", yMargin: 60 }) });
      view.focus();
    },
    focus: () => view.focus(),
  };
}
