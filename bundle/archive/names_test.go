package archive

import (
	"strings"
	"testing"
)

func TestCheckNames(t *testing.T) {
	long := strings.Repeat("a", 64)
	for _, c := range []struct {
		paths string // separated by spaces unless a "|" is in it
		kinds string
	}{
		{"a.txt", ""},
		{"meshes/case-ce.stl", ""},
		{"Gr\u00f6\u00dfe.stl", ""},
		{"com.txt", ""}, {"COM10", ""}, {"console.txt", ""}, {"a/nulla", ""}, {"lpt", ""},
		{"a..b", ""}, {"a~b-c", ""}, {"50%+2.stl", ""},
		// Device names, Microsoft "Naming Files, Paths, and Namespaces".
		{"CON", NameReserved}, {"con.txt", NameReserved}, {"a/Aux.tar.gz", NameReserved}, {"prn/b", NameReserved}, {"NUL", NameReserved},
		{"com1", NameReserved}, {"LPT9.x", NameReserved}, {"COM\u00b9", NameReserved}, {"lpt\u00b3.txt", NameReserved}, {"conin$", NameReserved},
		{"nul .txt|", NameReserved},
		// Characters, same page.
		{"a<b", NameChar}, {"a>b", NameChar}, {"ab:c", NameChar}, {`a"b`, NameChar}, {`a\b`, NameChar}, {"a|b", NameChar}, {"a?b", NameChar}, {"a*b", NameChar},
		{"a\x00b", NameChar}, {"a\nb", NameChar}, {"a\x7fb", NameChar}, {"a\u202eb", NameChar}, {"a\u200bb", NameChar}, {"a\ue000b", NameChar}, {"a\xffb", NameChar}, {"a\ufffdb", NameChar},
		{"C:x", NameChar + " " + NameUnsafe},
		{"/etc/passwd", NameUnsafe}, {"../x", NameUnsafe}, {"a/../x", NameUnsafe}, {"./x", NameUnsafe},
		{"", NameEmpty}, {"a//b", NameEmpty}, {"a/", NameEmpty},
		{"a.", NameEnds}, {"a |", NameEnds}, {"a./b", NameEnds}, {".a", NameEnds}, {"~a", NameEnds}, {"-a", NameEnds}, {" a|", NameEnds}, {"a/-rf", NameEnds},
		{long, ""}, {long + "a", NameLong}, {strings.Repeat("\u00e4", 64), ""}, {strings.Repeat("\U0001F600", 33), NameLong},
		{strings.Repeat("abc/", 29) + "aa", ""}, {strings.Repeat("abc/", 29) + "aaa", NameLong}, // with "t/": 120 and 121
		// Twins: case, Unicode form, full folding, folders.
		{"a.txt A.TXT", NameTwin}, {"caf\u00e9 cafe\u0301", NameTwin}, {"stra\u00dfe STRASSE", NameTwin}, {"\u212b \u00c5", NameTwin}, {"\u03c3 \u03c2", NameTwin},
		{"a a", NameTwin}, {"a a/b", NameTwin}, {"a/b a", NameTwin}, {"Photos/a photos/b", NameTwin}, {"x/a x/b", ""},
		{"SHA256SUMS", NameReserved}, {"sha256sums.SIG", NameReserved}, {"a/SHA256SUMS", ""},
	} {
		var paths []string
		if cut, ok := strings.CutSuffix(c.paths, "|"); ok {
			paths = []string{cut}
		} else if c.paths == "a|b" {
			paths = []string{c.paths}
		} else {
			paths = strings.Split(c.paths, " ")
		}
		var kinds []string
		for _, p := range CheckNames("t", paths) {
			kinds = append(kinds, p.Kind)
			if p.Text == "" {
				t.Errorf("%q: no text", paths)
			}
		}
		if got := strings.Join(kinds, " "); got != c.kinds {
			t.Errorf("%q: got %q, want %q", paths, got, c.kinds)
		}
	}
	for _, top := range []string{"", "..", "a/b", "con", ".x", "a\x00"} {
		if len(CheckNames(top, []string{"a"})) == 0 {
			t.Errorf("top folder %q was taken", top)
		}
	}
	if got := CheckNames("t", []string{"CON", "a?", "b."}); len(got) != 3 {
		t.Errorf("not all problems are told: %v", got)
	}
}
