// Package fit works out whether the things of a design hold together and reach where they must: which holes
// of its meshes each fastener uses, how much each screw clamps and bites, and which lengths would do; where a
// board or a fan sits, how much room it has, and whether plugs pass the wall.
//
// It measures and matches, it does not judge: its results are plain values of package facts, and package
// check turns them into findings. It reads no files; measure hands in the meshes and a reader for board
// profiles.
//
// # How holes are found for a joint
//
// Meshes lie as they print, each in a frame of its own, so that the holes of two parts cannot be laid over
// one another by their coordinates. What two parts of a joint have in common is the pattern of their holes.
// For each member of a joint the holes that could serve it are gathered (those near the band of diameters
// for its role, see Role), then the rigid motion is sought that brings the most holes of one member onto
// those of the other, each within patternPlay. A board's mounts and a known fan's corners are patterns too.
//
//   - Holes are compared in the plane across their axis, mirror images allowed: a plate may print on either
//     face. Which of two mirror images a part is, is therefore not checked here.
//   - A part of several copies takes its share of the screws in each: four screws through two cheeks are two
//     patterns of two.
//   - Joints of larger patterns choose first, and a hole is given away once.
//   - A joint with one printed member only has no second pattern; its holes are then counted, the likeliest
//     first, and Member.Matched is false.
//
// # How a board is seated
//
// A profile's mounts are laid onto the holes of the part it sits in: by every turn about z, either face up,
// never mirrored, since a board cannot be. The residual is the largest distance left; a second seat as good,
// or a half turn that fits the room and not the holes, is reported. From the seat follow the gap on each side,
// headroom, and for each port the way of its plug: every triangle before the port is projected along the way,
// and the exact distance to the plug's outline is its clearance.
//
// Millimetres throughout; diameters are drawn ones, and the circle that fits into a faceted hole counts.
package fit
