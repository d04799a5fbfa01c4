package bundle

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"dropwright/bundle/privacy"
)

// nameCode is the warning about names in files; a manifest that takes it as it is has consented.
const nameCode = "name-private"

// personal are the kinds of leaks that name a person or a place, or lead to one. The others (a time, a program,
// the header of a mesh) tell nothing that a bundle may not say.
var personal = []privacy.Kind{privacy.Position, privacy.Name, privacy.Serial, privacy.Path, privacy.Email, privacy.Address}

// PrivateError says what a finished bundle would have given away. The bundle is not written.
type PrivateError struct {
	Leaks []privacy.Leak
	// Consent is set where only names stand in the way: use_as_is in the manifest lets them pass.
	Consent bool
}

func (e *PrivateError) Error() string {
	l := e.Leaks[0]
	text := fmt.Sprintf("the bundle would give away a %s: %s in %s", l.Kind, l.What, l.Where)
	if l.Text != "" && l.Kind != privacy.Position {
		text += fmt.Sprintf(", %q", l.Text)
	}
	if n := len(e.Leaks) - 1; n > 0 {
		text += fmt.Sprintf(", and %d more", n)
	}
	return text
}

// guard is the one privacy check: over the finished bundle, with everything in it, by a reader that shares
// nothing with what cleaned the files.
// What the reader cannot look into comes back, for the maker to be told.
func (k *Work) guard(r io.ReaderAt, name string, size int64) (unread []privacy.Leak, err error) {
	leaks, err := privacy.ScanReader(name, r, size)
	if err != nil {
		return nil, fmt.Errorf("looking over the finished bundle: %w", err)
	}
	e := &PrivateError{Consent: true}
	consent := k.takesNames()
	for _, l := range leaks {
		if l.Kind == privacy.Unread {
			unread = append(unread, l)
		}
		if !slices.Contains(personal, l.Kind) {
			continue
		}
		if named := l.Kind == privacy.Name || l.Kind == privacy.Email; named {
			if k.known(l.Text) || ours(l.Where) || consent {
				continue
			}
		} else {
			e.Consent = false
		}
		e.Leaks = append(e.Leaks, l)
	}
	if len(e.Leaks) == 0 {
		return unread, nil
	}
	return unread, e
}

// ours reports whether a place inside a bundle is one of the papers: what stands there the maker wrote for
// people to read, names and addresses with it.
func ours(where string) bool {
	for _, paper := range []string{"sheet.html", "sheet.pdf", "README.txt", "CHANGES.txt", "LICENCE.txt", "EARLY.txt", "VERIFY.txt", "bom.csv", "bundle.json"} {
		if strings.Contains(where, "/"+paper) || strings.HasSuffix(where, paper) {
			return true
		}
	}
	return strings.Contains(where, "/LICENSES/")
}

// known reports whether a name or address is one that the series or the design names anyway: the maker's own,
// or that of somebody who is credited.
func (k *Work) known(text string) bool {
	low := strings.ToLower(text)
	names := []string{string(k.House.Maker.Name.V), string(k.House.Maker.URL.V), string(k.Design.Page.V)}
	for _, c := range k.Design.Credits {
		if c.By.V != "own work" {
			names = append(names, string(c.By.V))
		}
	}
	for _, n := range names {
		if n = strings.ToLower(n); n != "" && (strings.Contains(low, n) || len(low) > 3 && strings.Contains(n, low)) {
			return true
		}
	}
	return false
}

// takesNames reports whether the manifest consents to names in its files.
func (k *Work) takesNames() bool {
	for _, u := range k.Design.UseAsIs {
		if string(u.Code.V) == nameCode {
			return true
		}
	}
	return false
}
