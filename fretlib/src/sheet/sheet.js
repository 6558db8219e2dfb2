(() => {
  const svgNamespace = "http://www.w3.org/2000/svg";
  const said = document.getElementById("said");
  const numbers = (group) => group.dataset.notes.split(" ");
  const groups = [...document.querySelectorAll("g.note, g.place")];
  const byNote = new Map();
  for (const group of groups) {
    for (const number of numbers(group)) {
      if (!byNote.has(number)) byNote.set(number, []);
      byNote.get(number).push(group);
    }
  }
  const lit = new Set();

  const frame = (group, name) => {
    const box = group.getBBox();
    if (box.width === 0 && box.height === 0) return;
    const rect = document.createElementNS(svgNamespace, "rect");
    rect.setAttribute("class", name);
    rect.setAttribute("x", box.x - 0.8);
    rect.setAttribute("y", box.y - 0.8);
    rect.setAttribute("width", box.width + 1.6);
    rect.setAttribute("height", box.height + 1.6);
    rect.setAttribute("rx", 0.8);
    group.append(rect);
  };
  const unframe = (group, name) => group.querySelectorAll("." + name).forEach((rect) => rect.remove());

  // A place stays framed while any of its notes is lit.
  const show = (number) => {
    for (const group of byNote.get(number) ?? []) {
      unframe(group, "halo");
      const isLit = numbers(group).some((other) => lit.has(other));
      if (isLit) frame(group, "halo");
      if (group.hasAttribute("aria-pressed")) group.setAttribute("aria-pressed", isLit);
    }
  };
  const say = (number) => {
    const words = new Set();
    for (const group of byNote.get(number) ?? []) words.add(group.getAttribute("aria-label"));
    said.textContent = [...words].join(" · ");
  };
  const toggle = (number) => {
    if (lit.delete(number)) {
      said.textContent = "";
    } else {
      lit.add(number);
      say(number);
    }
    show(number);
  };
  const clear = () => {
    const before = [...lit];
    lit.clear();
    before.forEach(show);
    said.textContent = "";
  };

  // One stop for the Tab key on each staff: the first group of every note, walked with the arrows.
  const walks = [...document.querySelectorAll(".pages, .strip")].map((part) => {
    const first = new Map();
    for (const group of part.querySelectorAll("g.note")) {
      const number = group.dataset.notes;
      if (!first.has(number)) first.set(number, group);
    }
    const walk = [...first.values()];
    walk.forEach((group, index) => {
      group.setAttribute("role", "button");
      group.setAttribute("aria-pressed", "false");
      group.setAttribute("tabindex", index === 0 ? "0" : "-1");
      group.addEventListener("focus", () => frame(group, "here"));
      group.addEventListener("blur", () => unframe(group, "here"));
    });
    return walk;
  });

  document.addEventListener("click", (event) => {
    const group = event.target.closest("g.note, g.place");
    if (!group) return;
    const all = numbers(group);
    // A place that gives several notes is lit and put out with all of them.
    const isOn = all.some((number) => lit.has(number));
    all.filter((number) => lit.has(number) === isOn).forEach(toggle);
  });
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape") return clear();
    const walk = walks.find((walk) => walk.includes(document.activeElement));
    if (!walk) return;
    const at = walk.indexOf(document.activeElement);
    const to = { ArrowRight: at + 1, ArrowLeft: at - 1, Home: 0, End: walk.length - 1 }[event.key];
    if (event.key === "Enter") {
      event.preventDefault();
      toggle(walk[at].dataset.notes);
    } else if (to !== undefined && walk[to]) {
      event.preventDefault();
      walk[at].setAttribute("tabindex", "-1");
      walk[to].setAttribute("tabindex", "0");
      walk[to].focus();
    }
  });
  if (document.getElementById("score")) playPage({ byNote, frame, unframe, lit });
})();
