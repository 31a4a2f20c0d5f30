// Scores, ranks and the plan's text: the same sums as the program's.
const Scoring = (() => {
  'use strict';

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

  // Why a site cannot be ranked under these weights: what it fails, else what it lacks.
  function reasons(site, criteria, weights) {
    if (site.rejected.length) return site.rejected;
    return criteria
      .filter((c, i) => weights[i] > 0 && site.utilities[i] == null)
      .map((c) => `${c.name} cannot be scored: ${c.missing_words}`);
  }

  // Ranks all sites anew: `{site, index, rank, score, reasons}`, ranked ones first, in the order of their ranks.
  // Sites of equal score keep the order of the model.
  function rank(sites, criteria, weights, mean) {
    const rows = sites.map((site, index) => {
      const why = reasons(site, criteria, weights);
      return {
        site,
        index,
        reasons: why,
        rank: null,
        score: why.length ? null : weightedMean(mean, site.utilities, weights),
      };
    });
    const ranked = rows.filter((row) => row.score !== null).sort((a, b) => b.score - a.score || a.index - b.index);
    ranked.forEach((row, i) => {
      row.rank = i + 1;
    });
    return [...ranked, ...rows.filter((row) => row.score === null)];
  }

  // A number as TOML writes it: a decimal point or an exponent makes it a float.
  const number = (value) => (Number.isInteger(value) ? value.toFixed(1) : String(value));

  const bare = (name) => (/^[A-Za-z0-9_-]+$/.test(name) ? name : JSON.stringify(name));

  // The plan with other weights (and another mean): comments and everything else stay as they are.
  function planText(plan, criteria, weights, mean, remark) {
    const lines = plan.text.split(/\r?\n/);
    const kept = [];
    const comments = new Map();
    let table = '',
      seenScore = false,
      quoted = null,
      place = -1;
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
      kept.push(line);
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
    out.push('');
    return out.join('\n');
  }

  return { weightedMean, reasons, rank, planText };
})();
