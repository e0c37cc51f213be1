// What the laws of every page ask of the page itself.
window.laws = (() => {
  const TOUCHED = "a[href],button,summary,select,textarea,input:not([type=hidden])";
  const short = (each) => each.outerHTML.slice(0, 90);
  const seen = (each) => each.checkVisibility({ checkOpacity: true, checkVisibilityCSS: true });

  // A link within a sentence is as high as its line; everything else is for gloves.
  function inSentence(link) {
    const around = link.parentElement;
    if (!link.matches("a") || !around?.matches("p,li,dd,small,figcaption,caption,blockquote,em,strong,b,i")) return false;
    return around.textContent.trim().length > link.textContent.trim().length;
  }

  function smallTargets(least) {
    const found = [];
    for (const each of document.querySelectorAll(TOUCHED)) {
      if (!seen(each) || each.closest(".unseen,.skip") || inSentence(each)) continue;
      const judged = each.matches("input[type=radio],input[type=checkbox]") ? (each.closest("label") ?? each) : each;
      const box = judged.getBoundingClientRect();
      const narrow = !each.matches("a,summary") && box.width < least;
      if (box.height < least || narrow) found.push(`${short(each)} is ${box.width.toFixed(1)} x ${box.height.toFixed(1)}`);
    }
    return found;
  }

  function headings() {
    const levels = ["h1", "h2", "h3", "h4", "h5", "h6"].map((each) => `main ${each}`).join(",");
    const all = [...document.querySelectorAll(levels)].filter((each) => each.checkVisibility());
    const found = [];
    if (all.filter((each) => each.matches("h1")).length !== 1) found.push("the page has not one h1");
    if (all.length && !all[0].matches("h1")) found.push("the first heading is not the h1");
    let last = 0;
    for (const each of all) {
      const level = Number(each.tagName[1]);
      if (last && level > last + 1) found.push(`h${level} "${each.textContent.trim().slice(0, 40)}" follows an h${last}`);
      last = level;
    }
    return found;
  }

  // What scrolls by itself may be wider than it shows.
  function scrolls(each) {
    for (let around = each.parentElement; around; around = around.parentElement) {
      if (getComputedStyle(around).overflowX !== "visible") return true;
    }
    return false;
  }

  function overflow() {
    const { clientWidth: width, scrollWidth } = document.documentElement;
    if (scrollWidth <= width) return [];
    const wide = [...document.querySelectorAll("body *")].filter(
      (each) => each.getBoundingClientRect().right > width + 1 && !scrolls(each),
    );
    return [`${scrollWidth} px wide in ${width}: ${wide.slice(0, 3).map(short).join(" | ")}`];
  }

  function focus() {
    const each = document.activeElement;
    if (!each || each === document.body) return null;
    const box = each.getBoundingClientRect();
    const outlined = (one) => {
      const style = getComputedStyle(one);
      return style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2;
    };
    // A text editor may mark its frame in place of its lines, and its lines may run on beyond what it shows.
    const editor = each.isContentEditable;
    const frame = each.parentElement?.parentElement;
    const marked = outlined(each) || (editor && Boolean(frame) && outlined(frame));
    const within = box.bottom > 0 && box.top < innerHeight && box.right > 0 && box.left < innerWidth;
    const inside = box.width > 0 && box.height > 0 && within;
    const middle = (from, length, most) => Math.min(Math.max(from + length / 2, 1), most - 1);
    const top = inside
      ? document.elementFromPoint(middle(box.left, box.width, innerWidth), middle(box.top, box.height, innerHeight))
      : null;
    const covered = Boolean(top) && !editor && !each.contains(top) && !top.contains(each) && !top.closest("label")?.contains(each);
    const again = "tabbed" in each.dataset;
    each.dataset.tabbed = "";
    return { what: short(each), marked, inside, covered, again };
  }

  // Of radio buttons that belong together Tab stops at one.
  function notReached() {
    const together = (each) =>
      each.matches("input[type=radio]") &&
      document.querySelector(`input[type=radio][name="${each.name}"][data-tabbed]`);
    return [...document.querySelectorAll(`${TOUCHED},[tabindex='0']`)]
      .filter((each) => !each.disabled && each.tabIndex >= 0 && each.checkVisibility({ checkVisibilityCSS: true }))
      .filter((each) => !("tabbed" in each.dataset) && !together(each))
      .map(short);
  }

  return { smallTargets, headings, overflow, focus, notReached };
})();
