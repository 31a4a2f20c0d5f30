// What the page has besides its own scripts: the library that moves the map.
declare function Panzoom(element: Element, options: object): any;
