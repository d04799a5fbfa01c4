// Package bom works out the bill of materials of a design: what to print, which filament, which fasteners and
// bought parts, per variant and for any number of builds. Every row says where it came from. The counts are
// design.Tally's, the same that check judges and the sheet prints.
//
// It opens no file. A figure that is not known is absent, never zero: Complete says whether all are known.
package bom
