// A table of any length. Rows stand in blocks, each a body of the table; only blocks near the view are there, and what
// lies above and below is two fillers of their height, so that a frame lays out some dozens of rows and no more.
// Screen readers are told the number of all rows and the place of each.
const LongTable = (() => {
  'use strict';
  const { el } = Draw;
  const BLOCK = 10;
  // Up to so many rows all are made at once.
  const SHORT = 120;
  // Rows are there so far outside the view, pixels.
  const AHEAD_PX = 800;
  // Height of a row before one was seen, pixels.
  const GUESS_PX = 64;

  // `scroller` scrolls a long table; `row(k)` makes the row at place k.
  function start(table, scroller, columns, row) {
    let count = 0;
    let long = false;
    let rowPx = GUESS_PX;
    let waiting = false;
    // Height of each block that was seen, else 0; and the bodies that are there, by the number of their block.
    let heights = new Float64Array(0);
    let bodies = new Map();
    const [above, below] = [filler(), filler()];
    Draw.watch(scroller);

    function filler() {
      const space = el('td', { colspan: columns, role: 'presentation' });
      const body = el(
        'tbody',
        { class: 'filler', role: 'presentation', 'aria-hidden': 'true' },
        el('tr', { class: 'filler', role: 'presentation' }, space),
      );
      return {
        body,
        set(px) {
          body.hidden = px <= 0;
          space.style.height = `${Math.round(px)}px`;
        },
      };
    }

    const rowsOf = (block) => Math.min(BLOCK, count - block * BLOCK);
    const heightOf = (block) => heights[block] || rowPx * rowsOf(block);

    function fill(body, from, to) {
      const rows = [];
      for (let k = from; k < to; k++) {
        const tr = row(k);
        tr.setAttribute('aria-rowindex', k + 2);
        rows.push(tr);
      }
      body.replaceChildren(...rows);
    }
    function made(from, to) {
      const body = el('tbody', { role: 'rowgroup' });
      fill(body, from, to);
      return body;
    }
    const ofBlock = (block) => [block * BLOCK, block * BLOCK + rowsOf(block)];

    function measure() {
      for (const [block, body] of bodies) heights[block] = body.getBoundingClientRect().height;
    }

    // Makes the rows about the view and gives up those far from it.
    function update() {
      measure();
      const start = (above.body.hidden ? bodies.values().next().value : above.body)?.getBoundingClientRect().top ?? 0;
      const top = scroller.getBoundingClientRect().top - start;
      const atEnd = scroller.scrollTop > 0 && scroller.scrollTop + scroller.clientHeight >= scroller.scrollHeight - 2;
      const [from, to] = [top - AHEAD_PX, top + scroller.clientHeight + AHEAD_PX];
      let [y, before, after] = [0, 0, 0];
      const wanted = [];
      for (let block = 0; block < heights.length; block++) {
        const px = heightOf(block);
        if (y + px < from) before += px;
        else if (y > to) after += px;
        else wanted.push(block);
        y += px;
      }
      for (const [block, body] of bodies) {
        if (wanted.includes(block)) continue;
        // Whoever stood on a row by keys goes on from the table.
        if (body.contains(document.activeElement)) scroller.focus({ preventScroll: true });
        body.remove();
        bodies.delete(block);
      }
      const there = new Map();
      let last = above.body;
      for (const block of wanted) {
        let body = bodies.get(block);
        if (!body) {
          body = made(...ofBlock(block));
          last.after(body);
        }
        there.set(block, body);
        last = body;
      }
      bodies = there;
      above.set(before);
      below.set(after);
      // Rows that are taller than was guessed must not push the end away from somebody who stands there.
      if (atEnd) scroller.scrollTop = scroller.scrollHeight;
    }
    function soon() {
      if (!long || waiting) return;
      waiting = true;
      requestAnimationFrame(() => {
        waiting = false;
        if (long) update();
      });
    }
    scroller.addEventListener('scroll', soon, { passive: true });
    // In another width rows have another height.
    let width = 0;
    new ResizeObserver(() => {
      if (scroller.clientWidth !== width) heights.fill(0);
      width = scroller.clientWidth;
      soon();
    }).observe(scroller);

    // Shows so many rows, from the top.
    function show(rows) {
      count = rows;
      long = count > SHORT;
      table.setAttribute('aria-rowcount', count + 1);
      scroller.classList.toggle('long', long);
      if (long) scroller.setAttribute('tabindex', '0');
      if (scroller.scrollTop) scroller.scrollTop = 0;
      for (const body of [...table.tBodies]) body.remove();
      bodies = new Map();
      heights = new Float64Array(long ? Math.ceil(count / BLOCK) : 0);
      if (!long) {
        table.append(made(0, count));
        return;
      }
      bodies.set(0, made(...ofBlock(0)));
      above.set(0);
      table.append(above.body, bodies.get(0), below.body);
      rowPx = bodies.get(0).getBoundingClientRect().height / rowsOf(0) || GUESS_PX;
      update();
    }

    // Makes the rows anew that are there now.
    function refresh(rows) {
      if (rows !== count || (!long && table.tBodies.length !== 1)) return show(rows);
      if (!long) fill(table.tBodies[0], 0, count);
      else for (const [block, body] of bodies) fill(body, ...ofBlock(block));
    }
    return { show, refresh };
  }

  return { start };
})();
