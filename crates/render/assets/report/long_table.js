// A table of any length. Rows stand in blocks, each a body of the table; only blocks near the view hold their rows,
// the others keep their height. Screen readers are told the number of all rows and the place of each.
const LongTable = (() => {
  'use strict';
  const { el } = Draw;
  const BLOCK = 40;
  // Up to so many rows all are made at once.
  const SHORT = 120;
  // Height of a row before one was seen, pixels.
  const GUESS_PX = 64;

  // `scroller` scrolls a long table; `row(k)` makes the row at place k.
  function start(table, scroller, columns, row) {
    let blocks = [];
    let count = 0;
    let rowPx = GUESS_PX;
    Draw.watch(scroller);
    const observer = new IntersectionObserver(
      (entries) => {
        // Rows that are taller than was guessed must not push the end away from somebody who stands there.
        const atEnd =
          scroller.scrollTop > 0 && scroller.scrollTop + scroller.clientHeight >= scroller.scrollHeight - 2;
        for (const entry of entries) {
          const block = blocks[Number(entry.target.dataset.block)];
          if (!block || block.body !== entry.target) continue;
          if (entry.isIntersecting) fill(block);
          else if (!block.body.contains(document.activeElement)) clear(block);
        }
        if (atEnd) scroller.scrollTop = scroller.scrollHeight;
      },
      { root: scroller, rootMargin: '800px 0px' },
    );

    function fill(block) {
      if (block.full) return;
      block.full = true;
      const rows = [];
      for (let k = block.from; k < block.to; k++) {
        const tr = row(k);
        tr.setAttribute('aria-rowindex', k + 2);
        rows.push(tr);
      }
      block.body.removeAttribute('aria-hidden');
      block.body.setAttribute('role', 'rowgroup');
      block.body.replaceChildren(...rows);
    }

    function clear(block) {
      const px = block.full ? block.body.getBoundingClientRect().height : 0;
      if (px > 0) rowPx = px / (block.to - block.from);
      block.full = false;
      block.body.setAttribute('aria-hidden', 'true');
      block.body.setAttribute('role', 'presentation');
      const height = `height:${Math.round(px || rowPx * (block.to - block.from))}px`;
      block.body.replaceChildren(
        el(
          'tr',
          { class: 'filler', role: 'presentation' },
          el('td', { colspan: columns, role: 'presentation', style: height }),
        ),
      );
    }

    // Shows so many rows, from the top.
    function show(rows) {
      observer.disconnect();
      count = rows;
      table.setAttribute('aria-rowcount', count + 1);
      for (const { body } of blocks) body.remove();
      for (const body of [...table.tBodies]) body.remove();
      blocks = [];
      const long = count > SHORT;
      scroller.classList.toggle('long', long);
      if (long) scroller.setAttribute('tabindex', '0');
      scroller.scrollTop = 0;
      for (let from = 0; from < Math.max(count, 1); from += BLOCK) {
        const body = el('tbody', { 'data-block': blocks.length, role: 'rowgroup' });
        const block = { body, from, to: Math.min(from + BLOCK, count), full: false };
        blocks.push(block);
        if (!long || from === 0) fill(block);
        else clear(block);
      }
      table.append(...blocks.map((b) => b.body));
      if (long) for (const { body } of blocks) observer.observe(body);
    }

    // Makes the rows anew that are there now.
    function refresh(rows) {
      if (rows !== count) return show(rows);
      for (const block of blocks) {
        if (!block.full) continue;
        block.full = false;
        fill(block);
      }
    }
    return { show, refresh };
  }

  return { start };
})();
