// Package section cuts a mesh by parallel planes and says what the cuts show: outlines with exact
// area and length, and the census of holes, bosses and openings.
//
// It does not read files (mesh/stl, mesh/threemf), does not repair meshes (mesh) and does not judge:
// whether a hole is right for its screw is fit's business.
//
// Conventions: millimetres. A mesh is seen in a [Frame]; a plane is a height along the frame's W
// axis; points of a section are (u, v) in that frame, so along z they are plain (x, y). Segments and
// loops run with the material on their left: an outer outline is counter-clockwise and has positive
// area, the outline of a hole is clockwise and has negative area.
//
// The rule at vertex heights: a vertex exactly on the plane counts as above it. A plane at height z
// therefore shows the solid just below z, no triangle is cut "in a corner", and a closed mesh gives
// closed loops at every height; a tolerance or a special case for coplanar triangles would break that.
//
// The census calls a hole what is round or a regular hexagon all around and open at one end at least:
// a counterbored or countersunk hole is one hole with sinks; a nut pocket and the hole in its floor are
// two of one group; a cavity closed at both ends is kept apart, since no screw can enter it; a hole
// that a smaller one crosses stays one, and the same hole in two opposite walls is two. A regular
// pentagon or heptagon is a round hole drawn with few sides. Round things with something standing
// inside, D-shapes, slots, squares, drops are openings, or pockets if they have a floor.
//
// Results do not depend on the number of workers. Functions trust that the indices of a mesh are in
// range, as the constructors of package mesh guarantee; vertices that are not finite are never cut.
package section
