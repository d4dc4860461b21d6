// Makes and finds the page's nodes.
//
// Asked by every module that draws; knows nothing of boards. Attributes are set as properties of the
// document, never as markup, so that a word from a file can't become a tag.

const SVG = "http://www.w3.org/2000/svg";

function fill(node, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else if (name === "test") node.setAttribute("data-test", value);
    else node.setAttribute(name, value === true ? "" : String(value));
  }
  node.append(...children.filter((child) => child !== null && child !== undefined));
  return node;
}

/** A node of the document, with attributes, listeners (`onclick`), a test hook (`test`) and children. */
export function make(tag, attributes = {}, ...children) {
  return fill(document.createElement(tag), attributes, children);
}

/** The same for a node of a picture. */
export function draw(tag, attributes = {}, ...children) {
  return fill(document.createElementNS(SVG, tag), attributes, children);
}

/** The node with this `id`. */
export function place(id) {
  return document.getElementById(id);
}

/** Writes a text only where it differs: an unchanged one costs no layout and is not read out again. */
export function say(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

/** Sets an attribute only where it differs; `null` takes it away. */
export function set(node, name, value) {
  if (value === null || value === undefined) {
    if (node.hasAttribute(name)) node.removeAttribute(name);
  } else if (node.getAttribute(name) !== String(value)) {
    node.setAttribute(name, String(value));
  }
}

/** A table row of cells; the first one heads the row. */
export function row(first, ...others) {
  return make("tr", {}, make("th", { scope: "row" }, first), ...others.map((cell) => make("td", {}, cell)));
}

/** A frame that scrolls sideways where a table is wider than the page; the keyboard reaches it too. */
export function scroller(label, table) {
  return make("div", { class: "scroll", role: "region", tabindex: 0, "aria-label": label }, table);
}

/** The same as [`choices`] for a long list, in little room. */
export function selection(name, legend, options, chosen, choose) {
  const select = make(
    "select",
    { id: `choice-${name}`, test: name, onchange: (event) => choose(select.value, event.timeStamp) },
    ...options.map((option) =>
      make("option", { value: option.id, selected: option.id === chosen }, option.name),
    ),
  );
  return make("div", { class: "choices" }, make("label", { for: select.id }, legend), select);
}

/** A group of choices of which one is taken; `choose` gets the chosen id. */
export function choices(name, legend, options, chosen, choose) {
  const group = make("fieldset", { class: "choices" }, make("legend", {}, legend));
  for (const option of options) {
    const input = make("input", {
      type: "radio",
      name,
      value: option.id,
      test: `${name}-${option.id}`,
      checked: option.id === chosen,
      onchange: (event) => choose(option.id, event.timeStamp),
    });
    group.append(make("label", { class: "choice" }, input, make("span", {}, option.name)));
  }
  return group;
}
