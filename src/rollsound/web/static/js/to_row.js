// A row that an address names is shown, whatever list it stands folded in.

function show() {
  const row = location.hash ? document.getElementById(decodeURIComponent(location.hash.slice(1))) : null;
  if (!row) return;
  row.closest("details")?.setAttribute("open", "");
  row.scrollIntoView({ block: "center", behavior: "instant" });
}

addEventListener("hashchange", show);
show();
