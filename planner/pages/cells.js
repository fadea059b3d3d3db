// A table of fields. What is typed stays in the field and is told to the page; the page's answer never takes it
// away: only rows of a new `turn` are taken over, and what was typed meanwhile is put into them.
const REST_MS = 1500; // of a field that is still being typed in: then it is told as well
const FIELDS = "input, textarea";
const isFilled = (cell) => cell !== "" && cell !== false;
const anyFilled = (cells) => cells.some(isFilled);

export default function ({ parentElement, data, setStateValue }) {
  const place = parentElement.querySelector(".cells");
  place.typing ??= new Cells(place);
  place.typing.send = (what) => setStateValue("typed", what);
  place.typing.hear(data);
  return () => place.typing.tell();
}

class Cells {
  constructor(place) {
    this.body = place.querySelector("tbody");
    this.head = place.querySelector("thead");
    this.keys = place.querySelector(".keys");
    this.number = Date.now(); // of what is told; larger in a page that was loaded anew
    this.told = new Map();
    place.addEventListener("focusout", () => this.tell());
    const leave = () => (place.isConnected ? this.tell() : removeEventListener("pagehide", leave));
    addEventListener("pagehide", leave);
  }

  hear(data) {
    if (data.turn === this.turn) {
      this.told.forEach((_, number) => number < data.taken && this.told.delete(number));
      return;
    }
    const fresh = data.rows.map(([from, cells]) => ({ from, cells: [...cells] }));
    const known = this.told.get(data.taken) ?? this.known ?? [];
    this.last = JSON.stringify(listed(fresh));
    this.known = copied(fresh);
    this.rows = joined(fresh, this.rows ?? [], known);
    this.told.clear();
    Object.assign(this, { turn: data.turn, columns: data.columns, free: data.free });
    this.draw();
    this.tell();
  }

  tell() {
    clearTimeout(this.resting);
    const rows = listed(this.rows);
    const words = JSON.stringify(rows);
    if (words === this.last) return;
    this.last = words;
    this.told.set(++this.number, copied(this.rows));
    this.send({ turn: this.turn, number: this.number, rows: JSON.parse(words) });
  }

  put(at, column, cell) {
    if (this.columns[column]?.locked !== false) return;
    while (this.free && at >= this.rows.length) {
      this.rows.push({ from: null, cells: this.columns.map((one) => (one.flag ? false : "")) });
    }
    if (at < this.rows.length) this.rows[at].cells[column] = cell;
    clearTimeout(this.resting);
    this.resting = setTimeout(() => this.tell(), REST_MS);
  }

  // Cells as a spreadsheet copies them. In the row below all others they are told as one, since names of columns
  // may stand above them; elsewhere they lie over what is there.
  paste(event, at, column) {
    const text = event.clipboardData.getData("text").replace(/\r\n?/g, "\n").replace(/\n+$/, "");
    if (!/[\t\n]/.test(text)) return;
    event.preventDefault();
    if (at === this.rows.length) this.put(at, column, text);
    else {
      text.split("\n").forEach((line, n) =>
        line.split("\t").forEach((cell, m) => this.put(at + n, column + m, this.columns[column + m]?.flag
          ? cell.trim().toLowerCase() === "true" : cell.trim())));
    }
    this.draw();
    this.tell();
  }

  remove(at) {
    if (!this.free || at >= this.rows.length) return;
    this.rows.splice(at, 1);
    this.draw();
    this.tell();
  }

  key(event, at, column) {
    const field = event.target;
    const isLines = field.type === "textarea";
    const isAt = (end) => field.type === "checkbox" || (field.selectionStart === end && field.selectionEnd === end);
    if (event.isComposing || event.altKey) return;
    if (event.key === "Delete" && (event.ctrlKey || event.metaKey)) this.remove(at);
    else if (event.ctrlKey || event.metaKey) return;
    else if (event.key === "Escape") this.leave();
    else if (isLines && ["Enter", "ArrowDown", "ArrowUp"].includes(event.key)) return;
    else if (event.key === "Enter") this.go(at + (event.shiftKey ? -1 : 1), column);
    else if (event.key === "ArrowDown") this.go(at + 1, column);
    else if (event.key === "ArrowUp") this.go(at - 1, column);
    else if (event.key === "ArrowLeft" && isAt(0)) this.go(at, column - 1);
    else if (event.key === "ArrowRight" && isAt(field.value.length)) this.go(at, column + 1);
    else return;
    event.preventDefault();
  }

  // Behind the table. While the keys are there the place is one of those that the tab key visits: from any other
  // in here the browser begins with the table's first field anew.
  leave() {
    this.keys.tabIndex = 0;
    this.keys.focus();
    this.keys.onblur = () => { this.keys.tabIndex = -1; };
  }

  go(at, column) {
    const field = this.body.rows[at]?.querySelectorAll(FIELDS)[column];
    field?.focus();
    if (field && field.type !== "checkbox") field.select();
  }

  draw() {
    this.drawHead();
    const count = this.rows.length + (this.free ? 1 : 0);
    while (this.body.rows.length > count) this.body.lastElementChild.remove();
    while (this.body.rows.length < count) this.body.append(this.newRow(this.body.rows.length));
    this.rows.forEach((row, at) => this.fill(at, row.cells));
    if (this.free) this.fill(this.rows.length, this.columns.map((one) => (one.flag ? false : "")));
  }

  drawHead() {
    const words = JSON.stringify(this.columns);
    if (words === this.drawn) return;
    this.drawn = words;
    this.body.replaceChildren();
    const row = element("tr", {}, element("th", { scope: "col", textContent: "Row" }));
    this.columns.forEach((one) => {
      row.append(element("th", { scope: "col", textContent: one.name, title: one.help }));
    });
    if (this.free) row.append(element("td"));
    this.head.replaceChildren(row);
  }

  fill(at, cells) {
    const row = this.body.rows[at];
    row.classList.toggle("new", at === this.rows.length);
    row.querySelectorAll(FIELDS).forEach((field, column) => {
      const cell = field.type === "text" ? oneLine(cells[column]) : cells[column];
      if (field.type === "checkbox") field.checked = cell;
      else if (field.value !== cell) field.value = cell;
    });
  }

  newRow(at) {
    const row = element("tr", {}, element("th", { scope: "row", textContent: at + 1 }));
    this.columns.forEach((one, column) => row.append(element("td", {}, this.newField(at, one, column))));
    if (this.free) {
      const label = `Take away row ${at + 1}`;
      const button = element("button", { textContent: "×", title: label, tabIndex: -1, type: "button" });
      button.setAttribute("aria-label", label);
      button.onclick = () => this.remove(at);
      row.append(element("td", {}, button));
    }
    return row;
  }

  newField(at, one, column) {
    const field = one.lines
      ? element("textarea", { rows: 2, title: one.help })
      : element("input", { type: one.flag ? "checkbox" : "text", title: one.help });
    field.setAttribute("aria-label", `${one.name}, row ${at + 1}`);
    field.autocomplete = "off";
    field.spellcheck = false;
    if (one.flag) field.disabled = one.locked;
    else field.readOnly = one.locked;
    field.oninput = () => {
      const isNew = at === this.rows.length;
      this.put(at, column, one.flag ? field.checked : field.value);
      if (isNew) this.draw();
      if (one.flag) this.tell();
    };
    field.onkeydown = (event) => this.key(event, at, column);
    if (!one.lines) field.onpaste = (event) => this.paste(event, at, column);
    return field;
  }
}

const oneLine = (cell) => cell.replace(/[\n\t]+/g, " ");
const listed = (rows) => rows.filter((row) => row.from !== null || anyFilled(row.cells))
  .map((row) => [row.from, row.cells]);
const copied = (rows) => rows.map((row) => ({ row, cells: [...row.cells] }));

// The page's rows, with what was typed since the page took them. `known`: what it had of `mine`, in its order.
function joined(fresh, mine, known) {
  const before = new Map(known.map((one) => [one.row, one.cells]));
  const spots = new Map(known.filter((one) => anyFilled(one.cells)).map((one, at) => [one.row, fresh[at]]));
  const gone = new Set([...spots].filter(([row]) => !mine.includes(row)).map(([, spot]) => spot));
  const added = [];
  for (const row of mine) {
    const had = before.get(row);
    const spot = spots.get(row);
    if (had && spot) row.cells.forEach((cell, n) => { if (cell !== had[n]) spot.cells[n] = cell; });
    else if (!had ? anyFilled(row.cells) : row.cells.some((cell, n) => cell !== had[n])) {
      added.push({ from: null, cells: [...row.cells] });
    }
  }
  return [...fresh.filter((row) => !gone.has(row)), ...added];
}

function element(name, what = {}, ...inside) {
  const made = Object.assign(document.createElement(name), what);
  made.append(...inside);
  return made;
}
