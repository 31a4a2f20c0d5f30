// What the page has besides its own scripts, and what its own template vouches for: elements found by name are of the kind that
// is asked of them. Types are checked by `npm run types`.
declare function Panzoom(element: Element, options: object): any;
interface Document {
  getElementById(id: string): any;
}
interface ParentNode {
  querySelector(selectors: string): any;
  querySelectorAll(selectors: string): NodeListOf<any>;
}
interface Element {
  closest(selectors: string): any;
  inert: boolean;
  dataset: DOMStringMap;
}
interface Event {
  key: string;
  ctrlKey: boolean;
  metaKey: boolean;
  altKey: boolean;
  detail: any;
}
