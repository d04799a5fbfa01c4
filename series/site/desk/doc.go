// Package desk makes the pages that a maker works by: the season at a glance, a page for each design and for each
// board profile. A server that watches the folder shows them, and the same pages are written as files.
//
// Readers' pages are another matter (series/site/shelf): those show what went out, these show what lies in the
// folder, findings and missing things with it, and are meant for nobody else.
//
// The package measures nothing and decides nothing: it prints an outlook.Season and a bundle.Work, which are handed
// in through Source. It reads pictures and meshes of a design through the work's own file system.
//
// # Paths
//
//	index.html                       the season
//	desk.css desk.js solid.js mark.svg
//	designs/NAME/index.html          one design
//	designs/NAME/sheet-VARIANT-AUDIENCE.html   the assembly sheet as builders get it
//	designs/NAME/pictures/…          photos, and drawn pictures
//	designs/NAME/solids/ID.solid     a mesh to turn; ID.solid.js where pages lie in a folder
//	boards/index.html boards/KEY.html boards/KEY.svg
package desk
