package archive

import (
	"fmt"
	"sort"
	"strings"
	"unicode"
	"unicode/utf16"
	"unicode/utf8"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"
)

const (
	// MaxPath is the longest path inside a bundle, its top folder included, in UTF-16 units.
	// Windows allows 260 for the whole path unless the user opted in to more (Microsoft, "Naming
	// Files, Paths, and Namespaces"); 120 leaves the rest to the folder it is unpacked in. The
	// margin itself is common practice, no source.
	MaxPath = 120
	// MaxSegment is the longest name of one file or folder, in UTF-16 units: at most 192 bytes of
	// UTF-8, below the 255 of ext4. Common practice, no source.
	MaxSegment = 64
)

// Names of the files that Write adds itself.
const (
	SumsName      = "SHA256SUMS"
	SignatureName = "SHA256SUMS.sig"
)

// Problem is one thing that is wrong with a name, a zip, or a folder. Kind is a stable word, Path
// the entry it is about ("" for the whole), Text says what is wrong and, where that is not plain,
// what to do.
type Problem struct {
	Kind string `json:"kind"`
	Path string `json:"path,omitempty"`
	Text string `json:"text"`
}

// String is "path: text", or the text alone when the problem is about the whole.
func (p Problem) String() string {
	if p.Path == "" {
		return p.Text
	}
	return fmt.Sprintf("%q: %s", p.Path, p.Text)
}

// Problems is an error that holds every problem found, not only the first, in a fixed order.
type Problems struct {
	Doing string // what was refused: "pack", "read"
	List  []Problem
}

// Error names the first problem and says how many more there are.
func (e *Problems) Error() string {
	switch n := len(e.List); n {
	case 0:
		return "refused to " + e.Doing
	case 1:
		return fmt.Sprintf("refused to %s: %s", e.Doing, e.List[0])
	default:
		return fmt.Sprintf("refused to %s: %s (and %d more)", e.Doing, e.List[0], n-1)
	}
}

// Kinds of problems that names can have.
const (
	NameEmpty    = "name-empty"    // no name, or an empty segment
	NameUnsafe   = "name-unsafe"   // absolute, "." or "..", drive letter
	NameChar     = "name-char"     // a character that some system cannot hold or show
	NameReserved = "name-reserved" // a device name of Windows, or a name Write adds itself
	NameEnds     = "name-ends"     // trailing dot or space; leading ~ - . or space
	NameLong     = "name-long"     // past MaxPath or MaxSegment
	NameTwin     = "name-twin"     // same as another after Unicode form or case
	NameForm     = "name-form"     // not in Unicode form NFC (reading only: Write converts)
)

// CheckNames says what is wrong with the paths of a bundle whose top folder is top: everything
// that Linux, macOS or Windows could not store, would store under another name, or would store over
// a neighbour. Paths are judged in NFC. The result is sorted by path and empty when all is well.
// Sources: Microsoft, "Naming Files, Paths, and Namespaces"; Unicode UAX #15 (NFC) and the full
// case folding of CaseFolding.txt.
func CheckNames(top string, paths []string) []Problem {
	list := checkSegment(top, top)
	if strings.ContainsRune(top, '/') {
		list = append(list, Problem{NameChar, top, "the top folder must be one name without \"/\""})
	}
	twins := newTwins()
	for _, path := range paths {
		p := norm.NFC.String(path)
		list = append(list, checkPath(top, p)...)
		list = append(list, twins.add(p)...)
		switch foldKey(p) {
		case foldKey(SumsName), foldKey(SignatureName):
			list = append(list, Problem{NameReserved, p, "this name is kept for the checksum list that packing adds; rename the file"})
		}
	}
	sortProblems(list)
	return list
}

func sortProblems(list []Problem) {
	sort.SliceStable(list, func(i, j int) bool {
		if list[i].Path != list[j].Path {
			return list[i].Path < list[j].Path
		}
		return list[i].Kind < list[j].Kind
	})
}

// checkPath judges one path by itself.
func checkPath(top, path string) []Problem {
	if path == "" {
		return []Problem{{NameEmpty, path, "an entry has no name"}}
	}
	var list []Problem
	if strings.HasPrefix(path, "/") {
		list = append(list, Problem{NameUnsafe, path, "an absolute path would leave the folder it is unpacked in"})
		path = strings.TrimLeft(path, "/")
	}
	for seg := range strings.SplitSeq(path, "/") {
		list = append(list, checkSegment(path, seg)...)
	}
	if n := units(top) + 1 + units(path); n > MaxPath {
		list = append(list, Problem{NameLong, path, fmt.Sprintf("path of %d characters with its top folder %q; at most %d unpack everywhere", n, top, MaxPath)})
	}
	return list
}

// checkSegment judges one name between slashes; path is what the problem is reported under.
func checkSegment(path, seg string) []Problem {
	var list []Problem
	add := func(kind, format string, args ...any) {
		list = append(list, Problem{kind, path, fmt.Sprintf(format, args...)})
	}
	switch seg {
	case "":
		add(NameEmpty, "an empty name between, before or after slashes")
		return list
	case ".", "..":
		add(NameUnsafe, "%q as a folder would lead out of the bundle", seg)
		return list
	}
	if !utf8.ValidString(seg) {
		add(NameChar, "%q is not valid UTF-8; rename the file", seg)
		return list
	}
	if len(seg) >= 2 && seg[1] == ':' && unicode.IsLetter(rune(seg[0])) {
		add(NameUnsafe, "%q reads as a drive letter on Windows", seg)
	}
	for _, r := range seg {
		if why := badRune(r); why != "" {
			add(NameChar, "%q holds %s", seg, why)
			break
		}
	}
	if isDevice(seg) {
		add(NameReserved, "%q is the name of a device on Windows, with any ending; rename the file", seg)
	}
	switch last := seg[len(seg)-1]; last {
	case '.', ' ':
		add(NameEnds, "%q ends with %q, which Windows drops", seg, last)
	}
	switch first := seg[0]; first {
	case '~', '-', '.', ' ':
		add(NameEnds, "%q begins with %q: hidden, or read as an option or a home folder", seg, first)
	}
	if n := units(seg); n > MaxSegment {
		add(NameLong, "%q has %d characters; at most %d", seg, n, MaxSegment)
	}
	return list
}

// badRune says why r cannot stand in a portable name, or "". Windows refuses < > : " / \ | ? * and
// 0-31; controls, format characters (which can turn the reading direction or stay unseen) and
// private ones are refused because no two systems show them alike.
func badRune(r rune) string {
	switch {
	case strings.ContainsRune(`<>:"\|?*`, r):
		return fmt.Sprintf("%q, which Windows does not allow", r)
	case r == utf8.RuneError:
		return "the replacement character U+FFFD: its real name was lost on the way"
	case unicode.In(r, unicode.Cc, unicode.Cf, unicode.Co, unicode.Cs, unicode.Zl, unicode.Zp):
		return fmt.Sprintf("the invisible or private character U+%04X", r)
	}
	return ""
}

// isDevice reports whether Windows takes seg for a device, whatever comes after its first dot.
func isDevice(seg string) bool {
	stem, _, _ := strings.Cut(seg, ".")
	stem = strings.ToUpper(strings.TrimRight(stem, " "))
	switch stem {
	case "CON", "PRN", "AUX", "NUL", "CONIN$", "CONOUT$":
		return true
	}
	digit, ok := strings.CutPrefix(stem, "COM")
	if !ok {
		digit, ok = strings.CutPrefix(stem, "LPT")
	}
	if !ok {
		return false
	}
	switch digit {
	case "1", "2", "3", "4", "5", "6", "7", "8", "9", "\u00b9", "\u00b2", "\u00b3":
		return true
	}
	return false
}

// units is the length Windows counts: UTF-16 units.
func units(s string) int {
	n := 0
	for _, r := range s {
		n += max(1, utf16.RuneLen(r))
	}
	return n
}

// foldKey is equal for two names that a file system ignoring case or Unicode form would take for
// one: full case folding, then NFC. "ss" and sharp s are equal.
func foldKey(s string) string {
	return norm.NFC.String(cases.Fold().String(norm.NFD.String(s)))
}

// twins finds names that collide, files with files and files with folders, as they are added.
type twins struct {
	seen map[string]seenName
}

type seenName struct {
	name   string
	folder bool
}

func newTwins() *twins { return &twins{seen: map[string]seenName{}} }

func (t *twins) add(path string) []Problem {
	var list []Problem
	for i := 0; i <= len(path); i++ {
		if i < len(path) && path[i] != '/' {
			continue
		}
		name, folder := path[:i], i < len(path)
		key := foldKey(name)
		old, ok := t.seen[key]
		switch {
		case !ok:
			t.seen[key] = seenName{name, folder}
		case old.folder != folder:
			list = append(list, Problem{NameTwin, path, fmt.Sprintf("%q is a file here and a folder there", old.name)})
		case old.name == name && folder:
			// The same folder again.
		case old.name == name:
			list = append(list, Problem{NameTwin, path, "the same name stands twice"})
		default:
			list = append(list, Problem{NameTwin, path, fmt.Sprintf("differs from %q only in case or Unicode form: one would overwrite the other on Windows and macOS", old.name)})
		}
	}
	return list
}
