package bundle

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"dropwright/bundle/archive"
	"dropwright/bundle/compare"
	"dropwright/bundle/sheet"
)

// papers are what people read: the sheet, the bill of materials, the licence, the changes, how to verify; and
// the card for programs.
func (p *packer) papers() []item {
	s := p.illustrated()
	out := []item{
		made("sheet.html", func(w io.Writer) error { return s.HTML(w, p.imageOf) }),
		made("sheet.pdf", func(w io.Writer) error { return s.PDF(w, p.imageOf, "a4") }),
		made("bom.csv", func(w io.Writer) error {
			return p.k.BOM([]string{p.o.Variant}, 1, p.o.BoardTitle).WriteCSV(w)
		}),
		made("bundle.json", p.card),
		text("CHANGES.txt", p.changes()),
		text("LICENCE.txt", p.licence()),
		text("VERIFY.txt", p.verify()),
	}
	for _, id := range p.licences() {
		if data, ok := p.licenceText(id); ok {
			out = append(out, text("LICENSES/"+id+".txt", string(data)))
		}
	}
	if p.o.Audience != "public" {
		out = append(out, text("EARLY.txt", p.early()))
	}
	names := []string{"README.txt", archive.SumsName}
	if p.o.Sign != nil {
		names = append(names, archive.SignatureName)
	}
	for _, x := range append(p.plan, out...) {
		names = append(names, x.name)
	}
	slices.Sort(names)
	return append(out, text("README.txt", p.readme(names)))
}

// sheet composes the sheet as it lies in the bundle, its links leading to the files beside it, without drawn
// pictures.
func (p *packer) sheet() *sheet.Sheet { return sheet.Compose(p.sheetInput()) }

func (p *packer) sheetInput() sheet.Input {
	k, o := p.k, p.o
	return sheet.Input{
		Design: k.Design, Facts: k.Facts, House: k.House, BOM: k.BOM([]string{o.Variant}, max(1, k.Builds), o.BoardTitle),
		Variant: o.Variant, Audience: o.Audience, Licence: k.Licence(o.Audience), Later: k.later(o.Audience),
		Since: k.since, Reprint: k.reprintOf(o.Variant), Beside: k.BOM(k.Design.VariantNames(), max(1, k.Builds), o.BoardTitle).Beside(), Logo: k.logo(),
		Content: k.Facts.Content[:min(len(k.Facts.Content), sheet.ContentDigits)], BoardTitle: k.boardTitle(o.BoardTitle), Board: k.boardFor, Remarks: k.Remarks, Link: p.linkTo,
	}
}

func text(name, body string) item {
	return item{name: name, make: func() ([]byte, error) { return []byte(body), nil }}
}

// licences are the ids that stand for something in the bundle, each once, sorted.
func (p *packer) licences() []string {
	l := p.k.Design.Licences
	var out []string
	for _, id := range []string{p.k.Licence(p.o.Audience), p.k.later(p.o.Audience), string(l.Texts.V), string(l.Code.V)} {
		if id != "" && !strings.ContainsAny(id, " ()/\\") && !slices.Contains(out, id) {
			out = append(out, id)
		}
	}
	for _, c := range p.k.Design.Credits {
		if id := string(c.Licence.V); id != "" && !strings.ContainsAny(id, " ()/\\") && !slices.Contains(out, id) {
			out = append(out, id)
		}
	}
	slices.Sort(out)
	return out
}

func (p *packer) licenceText(id string) ([]byte, bool) {
	if p.o.Licence == nil {
		return nil, false
	}
	return p.o.Licence(id)
}

func (p *packer) licence() string {
	var b strings.Builder
	k := p.k
	id := k.Licence(p.o.Audience)
	fmt.Fprintf(&b, "SPDX-License-Identifier: %s\n\n", id)
	fmt.Fprintf(&b, "%s by %s.\n", k.Design.Title.V, k.House.Maker.Name.V)
	if later := k.later(p.o.Audience); later != "" {
		fmt.Fprintf(&b, "From its public day on the design is offered under %s.\n", later)
	}
	if l := k.Design.Licences; l.Texts.Set() {
		fmt.Fprintf(&b, "Texts and pictures: %s\n", l.Texts.V)
	}
	if l := k.Design.Licences; l.Code.Set() {
		fmt.Fprintf(&b, "Code: %s\n", l.Code.V)
	}
	if t := k.Design.ExtraTerms; t.Set() {
		fmt.Fprintf(&b, "Beside the licence the maker asks: %s\n", t.V)
	}
	b.WriteString("\nThe texts:\n")
	for _, id := range p.licences() {
		_, have := p.licenceText(id)
		switch {
		case have:
			fmt.Fprintf(&b, "  %s: LICENSES/%s.txt\n", id, id)
		case strings.HasPrefix(id, "LicenseRef-"):
			fmt.Fprintf(&b, "  %s: the maker's own; its text is not in this bundle, ask %s for it\n", id, k.House.Maker.Name.V)
		default:
			fmt.Fprintf(&b, "  %s: not in this bundle; https://spdx.org/licenses/%s.html\n", id, id)
		}
	}
	if len(k.Design.Credits) > 0 {
		b.WriteString("\n")
	}
	for _, c := range k.Design.Credits {
		fmt.Fprintf(&b, "Credit: %s, by %s", c.What.V, c.By.V)
		if c.Licence.Set() {
			fmt.Fprintf(&b, " (%s)", c.Licence.V)
		}
		if c.Link.Set() {
			fmt.Fprintf(&b, ", %s", c.Link.V)
		}
		if c.Changed.Set() {
			fmt.Fprintf(&b, "; changed: %s", c.Changed.V)
		}
		b.WriteString("\n")
	}
	return b.String()
}

// changes are the revisions, newest first; under the newest what must be printed anew by who built the one before.
func (p *packer) changes() string {
	var b strings.Builder
	for i, c := range p.k.Design.Changes {
		fmt.Fprintf(&b, "%s  %s  %s\n", c.Revision.V, c.Date.V, c.Text.V)
		if i == 0 && p.k.since != "" {
			p.printAgain(&b)
		}
	}
	return b.String()
}

func (p *packer) printAgain(b *strings.Builder) {
	list := p.k.reprintOf(p.o.Variant)
	if len(list) == 0 {
		return
	}
	fmt.Fprintf(b, "  Must I print again what I built from %s?\n", p.k.since)
	var kept []string
	for _, r := range list {
		switch r.Answer {
		case compare.Yes:
			fmt.Fprintf(b, "    %s: yes: %s\n", r.Part, r.Why)
		case compare.OnlyIf:
			fmt.Fprintf(b, "    %s: %s\n", r.Part, r.Why)
		default:
			kept = append(kept, r.Part)
		}
	}
	if len(kept) > 0 {
		fmt.Fprintf(b, "    no: %s\n", strings.Join(kept, ", "))
	}
}

// early tells who gets the early bundle what that means.
func (p *packer) early() string {
	k := p.k
	var b strings.Builder
	fmt.Fprintf(&b, "%s %s reaches you before its public day.\n\n", k.Design.Title.V, k.Design.Revision())
	fmt.Fprintf(&b, "These files are offered under %s; LICENCE.txt says where its text is.\n", k.Licence(p.o.Audience))
	if later := k.later(p.o.Audience); later != "" {
		fmt.Fprintf(&b, "From the public day on the design is offered under %s.\n", later)
	}
	fmt.Fprintf(&b, "Should something not fit or not be clear, tell %s: there is time to mend it before everybody prints it.\n", k.House.Maker.Name.V)
	return b.String()
}

// verify says how to find out whether the bundle is what was packed, with programs that people have.
func (p *packer) verify() string {
	var b strings.Builder
	b.WriteString(`Is this bundle whole, and is it the maker's?

SHA256SUMS lists the SHA-256 of every other file. In the folder of the bundle:
  Linux:    sha256sum --strict -c SHA256SUMS
  macOS:    shasum -a 256 -c SHA256SUMS
  Windows:  Get-FileHash in PowerShell gives the hash of a file, to compare with its line
A file that is not listed was not packed. With dropwright: dropwright verify FOLDER or ZIP does all of this.

`)
	if p.o.Sign == nil {
		b.WriteString("This bundle carries no signature: the list shows damage, not who made it.\n")
		return b.String()
	}
	s := p.o.Signed
	maker := string(p.k.House.Maker.Name.V)
	fmt.Fprintf(&b, `SHA256SUMS.sig is an SSH signature over that list. To check it, put the maker's key into a file, say
allowed_signers, as one line:
  %s namespaces="%s" %s
Take the key from a place that you trust and that is not this bundle: %s. The one above only says
which key signed. Then:
  ssh-keygen -Y verify -f allowed_signers -I %s -n %s -s SHA256SUMS.sig < SHA256SUMS
or: dropwright verify --signers allowed_signers FOLDER
`, s.Principal, s.Namespace, s.Key, where(string(p.k.House.Maker.URL.V), maker), s.Principal, s.Namespace)
	return b.String()
}

func where(url, maker string) string {
	if url != "" {
		return url
	}
	return "ask " + maker
}

func (p *packer) readme(names []string) string {
	k := p.k
	d := k.Design
	var b strings.Builder
	fmt.Fprintf(&b, "%s %s, %s\n%s\n\nby %s", d.Title.V, d.Revision(), d.Dated(), d.Summary.V, k.House.Maker.Name.V)
	if u := k.House.Maker.URL; u.Set() {
		fmt.Fprintf(&b, ", %s", u.V)
	}
	if v, ok := d.Variant(p.o.Variant); ok && v.Title.Set() {
		fmt.Fprintf(&b, "\nfor: %s", v.Title.V)
	}
	b.WriteString("\n\nOpen sheet.html in a browser, or print sheet.pdf: it says what to print, what to order, and how to build it.\n\n")
	for _, n := range names {
		fmt.Fprintf(&b, "  %s\n", n)
	}
	b.WriteString("\nmeshes/NAME_2x_COLOUR.stl: print it twice in that colour; -mirrored is the mirror image, ready to print.\n")
	if len(p.loads) > 0 {
		b.WriteString("models/COLOUR.model.3mf: all parts of a colour laid out on the bed; shapes, places and colours only, your\nprinter's settings are yours.\n")
		for _, l := range p.loads {
			fmt.Fprintf(&b, "  %s: %s, %d %% of a bed of %g x %g mm\n", l.name, parts(len(l.Placed)), int(l.Share*100+0.5), l.size[0], l.size[1])
		}
	}
	for _, l := range p.left {
		fmt.Fprintf(&b, "  not laid out: %s\n", l)
	}
	if slices.Contains(names, "models/assembly.3mf") {
		b.WriteString("models/assembly.3mf: the finished thing, to look at; not to print from.\n")
	}
	b.WriteString("VERIFY.txt says how to see that nothing was damaged on the way.\n\n")
	b.WriteString("Printing, soldering irons, blades, batteries and mains can hurt. Follow the cautions of the sheet, the\ninstructions of your tools and your local rules; leave mains work to licensed people.\n")
	return b.String()
}

func parts(n int) string {
	if n == 1 {
		return "1 part"
	}
	return fmt.Sprintf("%d parts", n)
}
