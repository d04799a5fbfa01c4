package hardware

import (
	"slices"
	"strings"
)

// Kind is what sort of thing a designation names.
type Kind string

// The kinds of fastener.
const (
	KindScrew    Kind = "screw"
	KindNut      Kind = "nut"
	KindWasher   Kind = "washer"
	KindInsert   Kind = "insert"
	KindStandoff Kind = "standoff"
)

// Head is a screw's head as a manifest names it.
type Head string

// The heads that a manifest may name; each stands for one standard, see StandardFor.
const (
	HeadSocket            Head = "socket"
	HeadButton            Head = "button"
	HeadButtonCollar      Head = "button-collar"
	HeadCountersunk       Head = "countersunk"
	HeadCountersunkCross  Head = "countersunk-cross"
	HeadPan               Head = "pan"
	HeadPanSlotted        Head = "pan-slotted"
	HeadPanHexalobular    Head = "pan-hexalobular"
	HeadSocketHexalobular Head = "socket-hexalobular"
	HeadHex               Head = "hex"
	HeadSet               Head = "set"
)

// DefaultHead is taken where a manifest names none: the commonest machine screw of the trade.
const DefaultHead = HeadSocket

// DefaultNut and DefaultWasher are taken where a manifest says just "nut" or "washer".
const (
	DefaultNut    = "ISO 4032"
	DefaultWasher = "ISO 7089"
)

// Drive is how a screw is turned.
type Drive string

// The drives.
const (
	DriveHexSocket   Drive = "hexagon socket"
	DriveCross       Drive = "cross recess"
	DriveHexalobular Drive = "hexalobular socket"
	DriveSlot        Drive = "slot"
	DriveHex         Drive = "hexagon"
)

// Standard is one product standard that the tables know.
type Standard struct {
	Number       string `json:"number"` // "ISO 4762", "DIN 912"
	Kind         Kind   `json:"kind"`
	Title        string `json:"title"`
	Head         Head   `json:"head,omitempty"`          // screws only
	Drive        Drive  `json:"drive,omitempty"`         // screws only
	IncludesHead bool   `json:"includes_head,omitempty"` // length counts the head (countersunk, set)
	Withdrawn    bool   `json:"withdrawn,omitempty"`     // a DIN number that an ISO standard replaced

	figures string // table of its figures
	ranges  string // table of its shortest and longest lengths
	series  string // row of table length-series
}

// standards is the list behind StandardOf. Where an old DIN number has no figures of its own its
// twin's are named; table "twin" says how sure it is that they are the same.
var standards = []Standard{
	{Number: "ISO 4762", Kind: KindScrew, Title: "socket head cap screw", Head: HeadSocket, Drive: DriveHexSocket, figures: "iso4762", ranges: "iso4762", series: "socket"},
	{Number: "ISO 7380-1", Kind: KindScrew, Title: "button head screw", Head: HeadButton, Drive: DriveHexSocket, figures: "iso7380-1", ranges: "iso7380-1", series: "button"},
	{Number: "ISO 7380-2", Kind: KindScrew, Title: "button head screw with collar", Head: HeadButtonCollar, Drive: DriveHexSocket, figures: "iso7380-1", ranges: "iso7380-1", series: "button"},
	{Number: "ISO 10642", Kind: KindScrew, Title: "countersunk screw, hexagon socket", Head: HeadCountersunk, Drive: DriveHexSocket, IncludesHead: true, figures: "iso10642", ranges: "iso10642", series: "countersunk socket"},
	{Number: "ISO 7046", Kind: KindScrew, Title: "countersunk screw, cross recess", Head: HeadCountersunkCross, Drive: DriveCross, IncludesHead: true, figures: "iso7046", ranges: "iso7046", series: "cross recess"},
	{Number: "ISO 7045", Kind: KindScrew, Title: "pan head screw, cross recess", Head: HeadPan, Drive: DriveCross, figures: "iso7045", ranges: "iso7045", series: "cross recess"},
	{Number: "ISO 1580", Kind: KindScrew, Title: "pan head screw, slotted", Head: HeadPanSlotted, Drive: DriveSlot, figures: "iso1580", ranges: "iso7045", series: "cross recess"},
	{Number: "ISO 14583", Kind: KindScrew, Title: "pan head screw, hexalobular socket", Head: HeadPanHexalobular, Drive: DriveHexalobular, figures: "iso7045", ranges: "iso7045", series: "cross recess"},
	{Number: "ISO 14579", Kind: KindScrew, Title: "socket head cap screw, hexalobular socket", Head: HeadSocketHexalobular, Drive: DriveHexalobular, figures: "iso4762", ranges: "iso4762", series: "socket"},
	{Number: "ISO 4017", Kind: KindScrew, Title: "hexagon head screw", Head: HeadHex, Drive: DriveHex, figures: "iso4017", ranges: "iso4017", series: "general"},
	{Number: "ISO 4026", Kind: KindScrew, Title: "set screw, hexagon socket", Head: HeadSet, Drive: DriveHexSocket, IncludesHead: true, figures: "iso4026", ranges: "iso4026", series: "general"},
	{Number: "ISO 4032", Kind: KindNut, Title: "hexagon nut", figures: "iso4032"},
	{Number: "ISO 4035", Kind: KindNut, Title: "hexagon nut, thin", figures: "iso4035"},
	{Number: "ISO 7040", Kind: KindNut, Title: "lock nut with polymer ring", figures: "iso7040"},
	{Number: "ISO 10511", Kind: KindNut, Title: "lock nut with polymer ring, thin", figures: "iso10511"},
	{Number: "DIN 562", Kind: KindNut, Title: "square nut, thin", figures: "din562"},
	{Number: "DIN 557", Kind: KindNut, Title: "square nut", figures: "din557"},
	{Number: "ISO 7089", Kind: KindWasher, Title: "washer", figures: "iso7089"},
	{Number: "ISO 7092", Kind: KindWasher, Title: "washer, small", figures: "iso7092"},
	{Number: "ISO 7093-1", Kind: KindWasher, Title: "washer, large", figures: "iso7093-1"},
	{Number: "ISO 7094", Kind: KindWasher, Title: "washer, extra large", figures: "iso7094"},

	{Number: "DIN 912", Kind: KindScrew, Title: "socket head cap screw", Head: HeadSocket, Drive: DriveHexSocket, Withdrawn: true, figures: "iso4762", ranges: "iso4762", series: "socket"},
	{Number: "DIN 7991", Kind: KindScrew, Title: "countersunk screw, hexagon socket", Head: HeadCountersunk, Drive: DriveHexSocket, IncludesHead: true, Withdrawn: true, figures: "din7991", ranges: "iso10642", series: "countersunk socket"},
	{Number: "DIN 965", Kind: KindScrew, Title: "countersunk screw, cross recess", Head: HeadCountersunkCross, Drive: DriveCross, IncludesHead: true, Withdrawn: true, figures: "din965", ranges: "iso7046", series: "cross recess"},
	{Number: "DIN 7985", Kind: KindScrew, Title: "pan head screw, cross recess", Head: HeadPan, Drive: DriveCross, Withdrawn: true, figures: "din7985", ranges: "iso7045", series: "cross recess"},
	{Number: "DIN 85", Kind: KindScrew, Title: "pan head screw, slotted", Head: HeadPanSlotted, Drive: DriveSlot, Withdrawn: true, figures: "iso1580", ranges: "iso7045", series: "cross recess"},
	{Number: "DIN 933", Kind: KindScrew, Title: "hexagon head screw", Head: HeadHex, Drive: DriveHex, Withdrawn: true, figures: "iso4017", ranges: "iso4017", series: "general"},
	{Number: "DIN 913", Kind: KindScrew, Title: "set screw, hexagon socket", Head: HeadSet, Drive: DriveHexSocket, IncludesHead: true, Withdrawn: true, figures: "iso4026", ranges: "iso4026", series: "general"},
	{Number: "DIN 934", Kind: KindNut, Title: "hexagon nut", Withdrawn: true, figures: "din934"},
	{Number: "DIN 439", Kind: KindNut, Title: "hexagon nut, thin", Withdrawn: true, figures: "iso4035"},
	{Number: "DIN 985", Kind: KindNut, Title: "lock nut with polymer ring", Withdrawn: true, figures: "din985"},
	{Number: "DIN 125", Kind: KindWasher, Title: "washer", Withdrawn: true, figures: "iso7089"},
	{Number: "DIN 433", Kind: KindWasher, Title: "washer, small", Withdrawn: true, figures: "iso7092"},
	{Number: "DIN 9021", Kind: KindWasher, Title: "washer, large", Withdrawn: true, figures: "iso7093-1"},
}

// Standards returns all standards that the tables know, ISO numbers first.
func Standards() []Standard { return slices.Clone(standards) }

// otherNumbers are numbers met in shops and older documents that mean a standard of the list.
var otherNumbers = map[string]string{
	"ISO 7380":   "ISO 7380-1",                         // until 2011 one part
	"ISO 7046-1": "ISO 7046", "ISO 7046-2": "ISO 7046", // parts by strength class
	"ISO 7093": "ISO 7093-1",
	"DIN 125A": "DIN 125", "DIN 125-A": "DIN 125", "DIN 125-1": "DIN 125", "DIN 125-1A": "DIN 125",
	"DIN 439B": "DIN 439", "DIN 439-B": "DIN 439", "DIN 439-2": "DIN 439",
	"DIN 965A": "DIN 965", "DIN 7985A": "DIN 7985", "DIN 7985H": "DIN 7985", "DIN 965H": "DIN 965",
}

// StandardOf finds a standard by its number as people write it: "ISO 4762", "iso4762",
// "DIN EN ISO 4762", "ISO 4762:2004". ok is false for one that the tables do not know.
func StandardOf(number string) (s Standard, ok bool) {
	n := canonicalNumber(number)
	for _, s := range standards {
		if s.Number == n {
			return s, true
		}
	}
	return Standard{}, false
}

// canonicalNumber brings a standard's number to the form "ISO 4762". It does not check that the
// tables know it.
func canonicalNumber(number string) string {
	t := strings.ToUpper(strings.Join(strings.Fields(number), " "))
	if len(t) > maxText {
		return t[:maxText]
	}
	t, _, _ = strings.Cut(t, ":") // the year of the edition
	if i := strings.Index(t, "ISO"); i > 0 && strings.Trim(t[:i], "DINE -") == "" {
		t = t[i:] // DIN EN ISO, EN ISO, DIN ISO
	}
	for _, body := range []string{"ISO", "DIN"} {
		if rest, ok := strings.CutPrefix(t, body); ok {
			t = body + " " + strings.TrimLeft(rest, " -")
			break
		}
	}
	if other, ok := otherNumbers[t]; ok {
		return other
	}
	return t
}

// headNames are other words for a head.
var headNames = map[string]Head{
	"cap": HeadSocket, "socket-cap": HeadSocket, "cylinder": HeadSocket,
	"flat": HeadCountersunk, "countersunk-socket": HeadCountersunk,
	"flat-cross": HeadCountersunkCross, "pan-cross": HeadPan, "button-flange": HeadButtonCollar,
	"hexagon": HeadHex, "grub": HeadSet, "slotted-pan": HeadPanSlotted,
}

// Heads lists the head names a manifest may use, for messages and "did you mean".
func Heads() []Head {
	return []Head{HeadSocket, HeadButton, HeadButtonCollar, HeadCountersunk, HeadCountersunkCross, HeadPan,
		HeadPanSlotted, HeadPanHexalobular, HeadSocketHexalobular, HeadHex, HeadSet}
}

// ParseHead reads a head's name; "" is the default head. ok is false for an unknown name.
func ParseHead(name string) (h Head, ok bool) {
	n := strings.ToLower(strings.Join(strings.Fields(strings.ReplaceAll(name, "_", " ")), "-"))
	if n == "" {
		return DefaultHead, true
	}
	if slices.Contains(Heads(), Head(n)) {
		return Head(n), true
	}
	h, ok = headNames[n]
	return h, ok
}

// StandardFor returns the standard that a head's name stands for; ok is false for an unknown head.
func StandardFor(h Head) (s Standard, ok bool) {
	for _, s := range standards {
		if s.Head == h && !s.Withdrawn && s.Kind == KindScrew {
			return s, true
		}
	}
	return Standard{}, false
}
