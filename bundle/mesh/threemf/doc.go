// Package threemf reads and writes 3MF packages: core 1.4.0, the colours of the materials extension
// and the split model parts of the production extension.
//
// Decode gives a Model: objects, components, build items, materials, metadata, thumbnails and a list
// of every part in the package. Write makes a small package that is the same for the same input,
// byte for byte with one version of Go, and holds nothing that the caller did not hand over.
//
// It is not for slices, beam lattices, volumetric data or anything else that a file declares as a
// required extension: those are refused by name. It measures nothing: faults of a mesh (open edges,
// degenerate triangles) are read as they are and found by package mesh. It repairs nothing.
//
// Conventions: lengths are converted to millimetres while reading; transforms are row vectors as in
// the standard, the translation is the last triple and is in millimetres too. Colours are those for
// display only (core 1.4.0, 5.1), never the truth about what is printed.
//
// Section numbers in this package are those of the 3MF core specification 1.4.0 (2025-02-06) of the
// 3MF Consortium; OPC is ECMA-376 part 2.
package threemf

// Limits for packages of strangers. The figures are common practice, no source, except where said;
// none of them is near what real packages need.
const (
	maxEntries      = 1000    // entries of the zip
	maxDirectory    = 4 << 20 // bytes that opening the zip may read: bounds what a lying directory costs
	maxUnpacked     = 1 << 30 // bytes of all entries together, unpacked
	maxRatio        = 200     // unpacked to packed, for entries above ratioFloor; real sliced boxes reach 90
	ratioFloor      = 1 << 20 // bytes: small entries may compress as well as they like
	maxToken        = 1 << 20 // bytes of one tag or one run of text
	maxDepth        = 32      // nested XML elements
	maxAttributes   = 64      // attributes of one element
	maxNesting      = 32      // components within components
	maxInstances    = 100_000 // meshes placed by the build, components multiplied out
	freeTriangles   = 4 << 20 // triangles that the build may place whatever the file holds …
	growthTriangles = 64      // … plus this many for each triangle the file holds …
	maxTriangles    = 1 << 25 // … up to this many
	maxSmallPart    = 4 << 20 // bytes of [Content_Types].xml and of a relationships part
	maxThumbnail    = 8 << 20 // bytes of one thumbnail
	maxThumbnails   = 16      // thumbnails that are kept
	maxMetadata     = 1000    // metadata entries that are kept
	maxWarnings     = 50      // different warnings that are kept
	maxComments     = 100     // XML comments that are kept
	maxCommentBytes = 1000    // bytes of one kept comment
	maxID           = 1<<31 - 1
)
