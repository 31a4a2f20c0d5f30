// Scores, ranks and the plan's text: the same sums as the program's.
const Scoring = (() => {
  'use strict';
  const { say } = Say;

  // Weighted mean of utilities; the geometric mean is 0 as soon as one weighted utility is 0.
  function weightedMean(mean, utilities, weights) {
    let sum = 0,
      total = 0;
    utilities.forEach((utility, i) => {
      const weight = weights[i];
      if (weight > 0) {
        total += weight;
        sum += weight * (mean === 'geometric' ? Math.log(utility ?? 0) : (utility ?? 0));
      }
    });
    if (total <= 0) return 0;
    return mean === 'geometric' ? Math.exp(sum / total) : sum / total;
  }

  // Utility of a value by the corners of a curve: linear between them, flat beyond the ends.
  function utility(points, value) {
    if (!points.length) return null;
    if (value <= points[0][0]) return points[0][1];
    for (let k = 1; k < points.length; k++) {
      const [[x0, u0], [x1, u1]] = [points[k - 1], points[k]];
      if (value <= x1) return u0 + (u1 - u0) * ((value - x0) / (x1 - x0));
    }
    return points.at(-1)[1];
  }

  // Why a site cannot be ranked under these weights: what it fails, else what it lacks.
  function reasons(site, criteria, weights) {
    if (site.rejected.length) return site.rejected;
    const utilities = site.utilities;
    return criteria
      .filter((c, i) => weights[i] > 0 && utilities[i] === null)
      .map((c) => say('cannot_be_scored', { criterion: c.name, why: c.missing_words }));
  }

  // Ranks all sites anew: `{site, index, rank, score, reasons}`, ranked ones first, in the order of their ranks.
  // Sites of equal score keep the order of the model.
  function rank(sites, criteria, weights, mean) {
    const rows = sites.map((site, index) => {
      const why = reasons(site, criteria, weights);
      const score = why.length ? null : weightedMean(mean, site.utilities, weights);
      return { site, index, reasons: why, rank: null, score };
    });
    const ranked = rows.filter((row) => row.score !== null).sort((a, b) => b.score - a.score || a.index - b.index);
    ranked.forEach((row, i) => {
      row.rank = i + 1;
    });
    return [...ranked, ...rows.filter((row) => row.score === null)];
  }

  // Rows of all sites under the weights in force. Under the plan's own the ranks are the program's: the page carries
  // rounded utilities and might part ties otherwise. Own points take no rank from a site: they stand between two.
  function order(model, { weights, mean, changed }) {
    const listed = model.sites.filter((site) => !site.own);
    const rows = changed()
      ? rank(listed, model.criteria, weights, mean)
      : listed.map((site, index) => ({
          site,
          index,
          // What the program ranked fails and lacks nothing.
          reasons: site.rank ? [] : reasons(site, model.criteria, weights),
          rank: site.rank,
          score: site.score,
        }));
    const own = model.sites.slice(listed.length).map((site, k) => {
      const found = standing(model, { weights, mean }, site, rows);
      const { score, unknown, better, of } = found;
      const between = found.rejected || score === null || unknown.length ? null : better + 0.5;
      const note = standingWords(model, found);
      return {
        site,
        index: listed.length + k,
        reasons: site.rejected,
        rank: null,
        score: unknown.length ? null : score,
        between,
        note,
        of,
      };
    });
    return [...rows, ...own];
  }

  // Where a place that was not computed beforehand would stand: its score over the criteria that this page knows of
  // it, and how many sites score better over the same ones. `unknown` are the weighted criteria without a value
  // here.
  function standing(model, { weights, mean }, site, rows) {
    const utilities = site.utilities;
    const known = weights.map((w, i) => (utilities[i] === null ? 0 : w));
    const unknown = model.criteria.filter((c, i) => weights[i] > 0 && utilities[i] === null);
    const rejected = site.rejected.length > 0;
    if (rejected || known.every((w) => w <= 0)) return { rejected, score: null, unknown, better: null, of: null };
    const score = weightedMean(mean, utilities, known);
    const others = rows.filter((r) => r.score !== null);
    const better = others.filter(
      (r) => (unknown.length ? weightedMean(mean, r.site.utilities, known) : r.score) > score,
    );
    return { rejected, score, unknown, better: better.length, of: others.length };
  }

  function standingWords(model, { rejected, score, unknown, better, of }) {
    if (rejected) return say('rejected_place');
    const criteria = unknown.map((c) => c.label).join(', ');
    if (score === null) return say('no_score', { criteria: criteria || say('all_that_counts') });
    const [three, rank] = [score.toFixed(3), better + 1];
    return unknown.length
      ? say('no_full_score', { criteria, score: three, rank, of })
      : say('full_score', { score: three, rank, of });
  }

  // A number as TOML writes it: a decimal point or an exponent makes it a float.
  const number = (value) => (Number.isInteger(value) ? value.toFixed(1) : String(value));

  const bare = (name) => (/^[A-Za-z0-9_-]+$/.test(name) ? name : JSON.stringify(name));

  // A line that names the file of candidates, with another file beside it.
  function withFile(line, file) {
    const parts = /^([^=]*=\s*)(\[[^\]]*\]|"[^"]*"|'[^']*')(.*)$/.exec(line);
    if (!parts) return line;
    const [, before, value, after] = parts;
    const known = value.startsWith('[') ? value.slice(1, -1).replace(/\s*,?\s*$/, '') : value;
    if (known.includes(`"${file}"`)) return line;
    return `${before}[${known}, ${JSON.stringify(file)}]${after}`;
  }

  // The plan with other weights (and another mean): comments and everything else stay as they are.
  function planText(plan, criteria, weights, mean, remark, ownFile = null) {
    const lines = plan.text.split(/\r?\n/);
    const kept = [];
    const comments = new Map();
    let table = '',
      seenScore = false,
      quoted = null,
      place = -1,
      sitesAt = -1,
      named = false;
    const header = /^\s*\[\s*([^\[\]]+?)\s*\]\s*(#.*)?$/;
    for (const line of lines) {
      // Inside a text of several lines nothing is a key.
      const marks = line.match(/"""|'''/g) ?? [];
      const wasQuoted = quoted;
      for (const mark of marks) quoted = quoted === null ? mark : quoted === mark ? null : quoted;
      if (wasQuoted) {
        kept.push(line);
        continue;
      }
      const found = header.exec(line);
      if (found) {
        table = found[1].replace(/\s|["']/g, '');
        if (table === 'weights' && place < 0) place = kept.length;
        if (table === 'weights') continue;
        kept.push(line);
        if (table === 'score') {
          seenScore = true;
          kept.push(`mean = "${mean}"`);
        }
        if (table === 'sites') sitesAt = kept.length;
        continue;
      }
      if (/^\s*\[\[/.test(line)) {
        table = '';
        kept.push(line);
        continue;
      }
      if (table === 'weights' && line.trim() && !line.trim().startsWith('#')) {
        const [, bareName, quotedName, comment] =
          /^\s*(?:([A-Za-z0-9_-]+)|"([^"]*)")\s*=[^#]*(#.*)?$/.exec(line) ?? [];
        if (comment) comments.set(bareName ?? quotedName, comment);
        continue;
      }
      if (table === '' && /^\s*weights\s*(\.|=)/.test(line)) continue;
      if (table === '' && /^\s*score\s*\.\s*mean\s*=/.test(line)) continue;
      if (table === 'score' && /^\s*mean\s*=/.test(line)) continue;
      if (
        ownFile &&
        (table === 'sites' ? /^\s*file\s*=/ : table === '' ? /^\s*sites\s*\.\s*file\s*=/ : /(?!)/).test(line)
      ) {
        kept.push(withFile(line, ownFile));
        named = true;
        continue;
      }
      kept.push(line);
    }
    if (ownFile && !named && sitesAt >= 0) {
      kept.splice(sitesAt, 0, `file = ${JSON.stringify(ownFile)}`);
      if (place >= sitesAt) place++;
      named = true;
    }
    const weightLines = [
      '[weights]',
      ...criteria.map((c, i) => {
        const line = `${bare(c.name)} = ${number(weights[i])}`;
        return comments.has(c.name) ? `${line.padEnd(30)} ${comments.get(c.name)}` : line;
      }),
    ];
    if (place >= 0) kept.splice(place, 0, ...weightLines);
    while (kept.length && !kept.at(-1).trim()) kept.pop();
    const out = [`# ${remark}`, ...kept];
    const dotted = !seenScore && kept.some((line) => /^\s*score\s*(\.|=)/.test(line));
    if (!seenScore && !dotted) out.push('', '[score]', `mean = "${mean}"`);
    if (dotted) out.splice(1, 0, `score.mean = "${mean}"`);
    if (place < 0) out.push('', ...weightLines);
    if (ownFile && !named) out.push('', '[sites]', `file = ${JSON.stringify(ownFile)}`);
    out.push('');
    return out.join('\n');
  }

  return { weightedMean, utility, reasons, rank, order, standing, standingWords, planText };
})();
