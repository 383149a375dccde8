/**
 * Makes a part of the document equal to a text of HTML by changing only what differs, so that a new minute moves no
 * focus, scroll or selection: equal elements stay the same elements, equal text is not touched.
 */

/**
 * @param {Element} from
 * @param {Element} to
 */
function attributes(from, to) {
  for (const { name, value } of to.attributes) if (from.getAttribute(name) !== value) from.setAttribute(name, value);
  for (const { name } of [...from.attributes]) if (!to.hasAttribute(name)) from.removeAttribute(name);
  if (from instanceof HTMLInputElement) from.checked = to.hasAttribute('checked');
}

/**
 * @param {Node} a
 * @param {Node} b
 */
function alike(a, b) {
  if (a.nodeType !== b.nodeType || a.nodeName !== b.nodeName) return false;
  if (!(a instanceof Element) || !(b instanceof Element)) return true;
  return a.id === b.id && a.getAttribute('data-metric') === b.getAttribute('data-metric');
}

/**
 * @param {Node} from
 * @param {Node} to
 */
function children(from, to) {
  const wanted = [...to.childNodes];
  for (const [i, want] of wanted.entries()) {
    const have = from.childNodes[i];
    if (have === undefined) from.appendChild(want);
    else if (!alike(have, want)) from.replaceChild(want, have);
    else if (have instanceof Element && want instanceof Element) {
      attributes(have, want);
      children(have, want);
    } else if (have.nodeValue !== want.nodeValue) have.nodeValue = want.nodeValue;
  }
  while (from.childNodes.length > wanted.length) from.lastChild?.remove();
}

/**
 * @param {Element} element
 * @param {string} html
 */
export function morph(element, html) {
  const template = document.createElement('template');
  template.innerHTML = html;
  children(element, template.content);
}
