// What the plan's editor takes from CodeMirror, in one module: scripts/editor/build.py bundles it.
export { autocompletion, closeBrackets, closeBracketsKeymap, completionKeymap, startCompletion } from "@codemirror/autocomplete";
export { defaultKeymap, history, historyKeymap, indentWithTab } from "@codemirror/commands";
export { yaml } from "@codemirror/lang-yaml";
export { HighlightStyle, foldGutter, foldKeymap, indentUnit, syntaxHighlighting } from "@codemirror/language";
export { lintGutter, lintKeymap, setDiagnostics } from "@codemirror/lint";
export { highlightSelectionMatches, search, searchKeymap } from "@codemirror/search";
export { ChangeSet, EditorState, Transaction } from "@codemirror/state";
export {
  EditorView, drawSelection, highlightActiveLine, highlightActiveLineGutter, highlightSpecialChars, keymap, lineNumbers,
} from "@codemirror/view";
export { tags } from "@lezer/highlight";
