/** Words of a mail in blocks, as plain text and as HTML that every reader shows: no style sheet and no picture. */
import { esc } from './page/text.js';

export type Block =
  | { readonly title: string; readonly lines: readonly string[] }
  | { readonly facts: readonly (readonly [string, string])[] }
  | { readonly heading: string; readonly numbered: readonly string[] }
  | { readonly heading: string; readonly bullets: readonly string[] }
  | { readonly lines: readonly string[] };

const WIDTH = 78;

/** Lines of at most 78 characters (RFC 5322, 2.1.1), further lines indented. */
function wrapped(text: string, first: string, indent: string): string {
  const lines: string[] = [];
  let line = first;
  let bare = true;
  for (const word of text.replace(/\s+/g, ' ').trim().split(' ')) {
    if (!bare && line.length + 1 + word.length > WIDTH) {
      lines.push(line);
      line = indent;
      bare = true;
    }
    line += bare ? word : ` ${word}`;
    bare = false;
  }
  return [...lines, line].join('\n');
}

export function textOf(blocks: readonly Block[]): string {
  const parts = blocks.map((block) => {
    if ('title' in block) return [block.title, ...block.lines].map((line) => wrapped(line, '', '')).join('\n');
    if ('facts' in block)
      return block.facts
        .filter(([, words]) => words !== '')
        .map(([term, words]) => wrapped(words, `${term.padEnd(15)} `, ' '.repeat(16)))
        .join('\n');
    if ('numbered' in block)
      return [
        block.heading,
        ...block.numbered.map((line, at) => wrapped(line, `${at + 1}. `.padStart(4), '    ')),
      ].join('\n');
    if ('bullets' in block)
      return [block.heading, ...block.bullets.map((line) => wrapped(line, '  - ', '    '))].join('\n');
    return block.lines.map((line) => wrapped(line, '', '')).join('\n');
  });
  return `${parts.join('\n\n')}\n`;
}

export function htmlOf(blocks: readonly Block[], title: string): string {
  const list = (tag: 'ol' | 'ul', lines: readonly string[]): string =>
    `<${tag}>${lines.map((line) => `<li>${esc(line)}</li>`).join('')}</${tag}>`;
  const parts = blocks.map((block) => {
    if ('title' in block)
      return `<h2>${esc(block.title)}</h2>${block.lines.map((line) => `<p>${esc(line)}</p>`).join('')}`;
    if ('facts' in block) {
      const rows = block.facts
        .filter(([, words]) => words !== '')
        .map(([term, words]) => `<tr><td valign="top"><b>${esc(term)}</b>&nbsp;</td><td>${esc(words)}</td></tr>`);
      return `<table cellpadding="3">${rows.join('')}</table>`;
    }
    if ('numbered' in block) return `<h3>${esc(block.heading)}</h3>${list('ol', block.numbered)}`;
    if ('bullets' in block) return `<h3>${esc(block.heading)}</h3>${list('ul', block.bullets)}`;
    return block.lines.map((line) => `<p>${esc(line)}</p>`).join('');
  });
  return `<!doctype html><html lang="en"><head><meta charset="utf-8"><title>${esc(title)}</title></head><body style="font-family:sans-serif">${parts.join('')}</body></html>\n`;
}
