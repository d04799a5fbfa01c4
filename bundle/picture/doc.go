// Package picture draws solids: views of parts in their colours with edges and soft shading, parts taken
// apart along the ways they go together, all parts of a print as they stand on a bed, and what a step of
// an assembly adds. It draws in software, the same bytes on every run and with any number of workers.
//
// It is not a ray tracer: nothing is cast, reflected or seen through. It reads no files and knows nothing
// of designs; what stands where is handed in.
//
// # Conventions
//
// Millimetres, right-handed axes, Z up, facets counter-clockwise seen from outside; both sides of a facet
// are drawn, so that an open or inside-out mesh shows too. Pictures have x to the right and y downwards.
// Colours are sRGB. Line widths are given in pixels; ISO 128-2:2020 (table 1 and clause 5) takes the narrow
// line as half of the wide one, see Thin.
//
// # How a picture comes about
//
//  1. Vertices are projected onto a grid of samples, n by n for each pixel.
//  2. Facets are filled row by row into a depth buffer, in bands of rows small enough for a core's cache;
//     bands do not depend on one another.
//  3. Neighbouring samples of different facets make a line where the bodies differ, where one facet lies
//     behind the plane of the other, or where the facets meet at more than CreaseAngle.
//  4. Every facet seen in a pixel is shaded once and counts with its number of samples.
package picture
