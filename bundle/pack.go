package bundle

import (
	"context"
	"fmt"
	"io"
	"time"

	"dropwright/bundle/archive"
	"dropwright/bundle/design"
	"dropwright/bundle/measure"
)

// Packed says what one bundle is.
type Packed struct {
	Design, Revision, Variant, Audience string
	Name                                string // file name of the zip
	Digest                              archive.Hash
	Files                               []archive.File
	Bytes                               int64
	// Unread is what the privacy check could not look into, as "place: why".
	Unread []string
	// Left is what could not be laid out on any printer's bed, as "part: why"; its mesh is there all the same.
	Left []string
}

// BundleName is the file name of a bundle without its ending: also its top folder.
func BundleName(d *design.Design, variant string, audience design.Audience) string {
	name := d.Folder + "-" + d.Revision().String()
	if variant != design.Plain {
		name += "-" + variant
	}
	return name + "-" + string(audience)
}

// Noon is noon UTC of the revision's date: the only time inside a bundle.
func Noon(d *design.Design) time.Time {
	t := d.Dated()
	return time.Date(t.Year, time.Month(t.Month), t.Day, 12, 0, 0, 0, time.UTC)
}

// PackOptions is what a bundle needs beside the design.
type PackOptions struct {
	Variant    string
	Audience   design.Audience
	BoardTitle func(profile string) string       // names a board profile; nil or "": its id
	Sign       func(sums []byte) ([]byte, error) // nil: unsigned
	// Signed is how somebody checks the signature; used where Sign is.
	Signed Signature
	// Licence gives the text that the series keeps for a licence (LICENSES/ID.txt), false where it keeps none.
	// nil: it keeps none.
	Licence func(id string) ([]byte, bool)
}

// Signature is what a reader needs to check a signature.
type Signature struct {
	Namespace string // what the signature was made for
	Principal string // the name that the key has in a list of allowed signers
	Key       string // the public key: type, space, base64
}

// SignatureNamespace keeps signatures of bundles from passing for signatures of anything else. It has the form
// NAME@DOMAIN that ssh-keygen(1) asks for.
const SignatureNamespace = "bundle@dropwright"

// PackTopics is what is measured of a design before it is packed: every figure, since bundle.json holds them.
var PackTopics = measure.Topics{Holes: true, Walls: true, Estimate: true}

// Pack writes the bundle of one variant for one audience as a zip to w, once the finished zip has passed the
// privacy check: before that, w gets nothing. The design must be without errors; the caller has judged that.
//
// Errors, besides those of the machine: *archive.Problems for names that some system cannot store,
// *archive.ChangedError for a file that is not what was measured, *PrivateError for what a bundle must not
// give away.
func (k *Work) Pack(ctx context.Context, w io.Writer, o PackOptions) (Packed, error) {
	k = k.For(o.Audience)
	if o.BoardTitle == nil {
		o.BoardTitle = func(string) string { return "" }
	}
	p := &packer{k: k, o: o}
	entries, err := p.entries(ctx)
	if err != nil {
		return Packed{}, err
	}
	name := BundleName(k.Design, o.Variant, o.Audience)
	s := &spool{}
	defer s.close()
	res, err := archive.Write(ctx, s, entries, archive.Options{Top: name, Time: Noon(k.Design), Sign: o.Sign})
	if err != nil {
		return Packed{}, err
	}
	if err := p.unchanged(res.Files); err != nil {
		return Packed{}, err
	}
	unread, err := k.guard(s, name+".zip", res.Bytes)
	if err != nil {
		return Packed{}, err
	}
	if err := s.copyTo(w); err != nil {
		return Packed{}, err
	}
	out := Packed{Design: k.Design.Folder, Revision: k.Design.Revision().String(), Variant: o.Variant, Audience: string(o.Audience),
		Name: name + ".zip", Digest: res.Digest, Files: res.Files, Bytes: res.Bytes, Left: p.left}
	for _, l := range unread {
		out.Unread = append(out.Unread, l.Where+": "+l.What)
	}
	return out, nil
}

// For is the work as an audience sees it: what the manifest marks for another audience is not there. Nothing
// that goes into a bundle is made from more than this, so that nothing early can come into a public one.
func (k *Work) For(audience design.Audience) *Work {
	if k.all != nil {
		return k
	}
	d := *k.Design
	mine := func(a design.Val[design.Audience]) bool { return !a.Set() || a.V == audience }
	d.Parts, d.Extras, d.Links = nil, nil, nil
	gone := map[string]bool{}
	for _, x := range k.Design.Parts {
		if mine(x.Audience) {
			d.Parts = append(d.Parts, x)
		} else {
			gone[string(x.Name.V)], gone[string(x.Name.V)+".mirrored"] = true, true
		}
	}
	for _, x := range k.Design.Extras {
		if mine(x.Audience) {
			d.Extras = append(d.Extras, x)
		}
	}
	for _, x := range k.Design.Links {
		if mine(x.Audience) {
			d.Links = append(d.Links, x)
		}
	}
	if len(gone) > 0 {
		d.Assembly = without(d.Assembly, gone)
	}
	return &Work{Source: Source{FS: k.FS, Manifest: k.Manifest, Design: &d, House: k.House, Series: k.Series}, Facts: k.Facts, Checked: k.Checked, Remarks: k.Remarks,
		Builds: k.Builds, since: k.since, reprint: k.reprint, all: k.Design}
}

// without takes parts out of what steps use: a sheet does not name what its reader does not get.
func without(steps []design.Step, gone map[string]bool) []design.Step {
	out := make([]design.Step, len(steps))
	for i, s := range steps {
		kept := s.Uses
		kept.Entries = nil
		for _, u := range s.Uses.Entries {
			if !gone[u.Key] {
				kept.Entries = append(kept.Entries, u)
			}
		}
		s.Uses = kept
		out[i] = s
	}
	return out
}

// Licence is the SPDX id that the models carry: the design's own, or the series'. The early bundle carries
// the series' early licence until the public day, when there is one.
func (k *Work) Licence(audience design.Audience) string {
	if audience != "public" && k.House.EarlyLicence.Set() {
		return string(k.House.EarlyLicence.V)
	}
	for _, l := range []design.Val[design.Text]{k.Design.Licences.Models, k.Design.Licence, k.House.Licence} {
		if l.Set() {
			return string(l.V)
		}
	}
	return ""
}

// later is the licence that follows on the public day, "" when none follows.
func (k *Work) later(audience design.Audience) string {
	if l := k.Licence("public"); audience != "public" && l != k.Licence(audience) {
		return l
	}
	return ""
}

// NotMeasuredError says that a file was not measured, so that nobody knows whether it is what was judged.
type NotMeasuredError struct{ Path string }

func (e *NotMeasuredError) Error() string {
	return fmt.Sprintf("%q was not there when the design was measured", e.Path)
}
