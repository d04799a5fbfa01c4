package threemf

import (
	"archive/zip"
	"bufio"
	"bytes"
	"compress/flate"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"dropwright/bundle/mesh"
)

// Package is what Write puts into a file. Nothing else gets into it: no name of a program, no date
// but Date, no user.
type Package struct {
	Metadata  []Metadata // of the model, names of the standard only (3.4.1); Where is not used
	Materials []Material
	Objects   []Placed
	Date      time.Time // the date of all entries of the zip, taken in UTC, from 1980 to 2107
}

// Placed is one object and its copies.
type Placed struct {
	Name       string
	PartNumber string
	Material   int // index into Package.Materials, -1 for none
	Mesh       *mesh.Mesh
	Places     []Transform // one build item each; none means one copy where it is
}

// Write makes a 3MF package in millimetres: one model part, one object for each mesh, one build item
// for each copy. Same input, same bytes, as long as Go's deflate does not change. Meshes are written
// as they are; the standard asks for closed ones in the positive octant, which is the caller's matter.
func Write(w io.Writer, p Package) error {
	if err := p.check(); err != nil {
		return fmt.Errorf("write 3MF: %w", err)
	}
	zw := zip.NewWriter(w)
	// Not in the order of the names: programs that look at the first entry to know the type expect the
	// content types there (OPC annex; file(1) does).
	for _, part := range []struct {
		name string
		body func(*bufio.Writer) error
	}{
		{nameContentTypes, writeContentTypes},
		{nameRootRels, writeRootRels},
		{"3D/3dmodel.model", p.writeModel},
	} {
		if err := writeEntry(zw, part.name, p.Date, part.body); err != nil {
			return fmt.Errorf("write 3MF: part %q: %w", part.name, err)
		}
	}
	if err := zw.Close(); err != nil {
		return fmt.Errorf("write 3MF: %w", err)
	}
	return nil
}

func (p *Package) check() error {
	if len(p.Objects) == 0 {
		return errors.New("no object")
	}
	date := p.Date.UTC()
	if date.Year() < 1980 || date.Year() > 2107 {
		return fmt.Errorf("the date %s does not fit a zip archive (1980 to 2107)", date.Format(time.DateOnly))
	}
	for i, m := range p.Metadata {
		if !slices.Contains(metadataNames, m.Name) {
			return fmt.Errorf("metadata %q: the standard has only %s", m.Name, strings.Join(metadataNames, ", "))
		}
		if slices.ContainsFunc(p.Metadata[:i], func(o Metadata) bool { return o.Name == m.Name }) {
			return fmt.Errorf("metadata %q twice", m.Name)
		}
		if err := checkText(m.Value); err != nil {
			return fmt.Errorf("metadata %q: %w", m.Name, err)
		}
	}
	for _, m := range p.Materials {
		if err := checkText(m.Name); err != nil {
			return fmt.Errorf("material %q: %w", m.Name, err)
		}
	}
	for _, o := range p.Objects {
		if err := o.check(len(p.Materials)); err != nil {
			return fmt.Errorf("object %q: %w", o.Name, err)
		}
	}
	return nil
}

func (o *Placed) check(materials int) error {
	if err := checkText(o.Name); err != nil {
		return err
	}
	if err := checkText(o.PartNumber); err != nil {
		return err
	}
	if o.Material < -1 || o.Material >= materials {
		return fmt.Errorf("material %d of %d", o.Material, materials)
	}
	if o.Mesh == nil || len(o.Mesh.Triangles) == 0 {
		return errors.New("no triangles")
	}
	for i, v := range o.Mesh.Vertices {
		for _, c := range v {
			if math.IsNaN(float64(c)) || math.IsInf(float64(c), 0) {
				return fmt.Errorf("vertex %d is not finite", i)
			}
		}
	}
	for i, t := range o.Mesh.Triangles {
		if n := uint32(len(o.Mesh.Vertices)); t[0] >= n || t[1] >= n || t[2] >= n {
			return fmt.Errorf("triangle %d uses a vertex that does not exist", i)
		}
		// 4.1.4: the three must be different.
		if t[0] == t[1] || t[1] == t[2] || t[2] == t[0] {
			return fmt.Errorf("triangle %d uses one vertex twice, which 3MF does not allow: repair the mesh", i)
		}
	}
	for _, t := range o.Places {
		if !t.finite() || t.singular() {
			return errors.New("a placement is not finite or flattens the object")
		}
	}
	return nil
}

// checkText refuses what XML 1.0 cannot hold (section 2.2 of that standard, Char).
func checkText(s string) error {
	if !utf8.ValidString(s) {
		return errors.New("text is not UTF-8")
	}
	for _, r := range s {
		if r < 0x20 && r != '\t' && r != '\n' && r != '\r' || r == 0xfffe || r == 0xffff {
			return fmt.Errorf("the character %U cannot stand in XML", r)
		}
	}
	return nil
}

// writeEntry packs one part. CreateRaw with known sizes and CRC leaves out data descriptor, extra field
// and everything that could differ from machine to machine.
func writeEntry(zw *zip.Writer, name string, date time.Time, body func(*bufio.Writer) error) error {
	var packed bytes.Buffer
	deflate, err := flate.NewWriter(&packed, flate.DefaultCompression)
	if err != nil {
		return err
	}
	sum := &summing{w: deflate}
	out := bufio.NewWriterSize(sum, 1<<16)
	if err := body(out); err != nil {
		return err
	}
	if err := out.Flush(); err != nil {
		return err
	}
	if err := deflate.Close(); err != nil {
		return err
	}
	// Above that zip needs Zip64, which 3MF producers should avoid (appendix C).
	if sum.size >= math.MaxUint32 || packed.Len() >= math.MaxUint32 {
		return errors.New("larger than 4 GiB")
	}
	date = date.UTC()
	h := &zip.FileHeader{
		Name:               name,
		CreatorVersion:     3<<8 | 20, // unix, 2.0
		ReaderVersion:      20,
		Method:             zip.Deflate,
		CRC32:              sum.crc,
		CompressedSize64:   uint64(packed.Len()),
		UncompressedSize64: uint64(sum.size),
		ExternalAttrs:      0o100644 << 16,
		// Set by hand: setting Modified would add an extra field in local time.
		//lint:ignore SA1019 see above
		ModifiedDate: uint16(date.Day() + int(date.Month())<<5 + (date.Year()-1980)<<9),
		//lint:ignore SA1019 see above
		ModifiedTime: uint16(date.Second()/2 + date.Minute()<<5 + date.Hour()<<11),
	}
	raw, err := zw.CreateRaw(h)
	if err != nil {
		return err
	}
	_, err = raw.Write(packed.Bytes())
	return err
}

// summing counts and sums what passes.
type summing struct {
	w    io.Writer
	crc  uint32
	size int64
}

func (s *summing) Write(p []byte) (int, error) {
	s.crc = crc32.Update(s.crc, crc32.IEEETable, p)
	s.size += int64(len(p))
	return s.w.Write(p)
}

const xmlHeader = `<?xml version="1.0" encoding="UTF-8"?>` + "\n"

func writeContentTypes(w *bufio.Writer) error {
	_, err := w.WriteString(xmlHeader + `<Types xmlns="` + uriContentTypes + `">` +
		`<Default Extension="rels" ContentType="` + typeRelations + `"/>` +
		`<Default Extension="model" ContentType="` + typeModel + `"/></Types>` + "\n")
	return err
}

func writeRootRels(w *bufio.Writer) error {
	_, err := w.WriteString(xmlHeader + `<Relationships xmlns="` + uriRelations + `">` +
		`<Relationship Target="/3D/3dmodel.model" Id="rel0" Type="` + relModel + `"/></Relationships>` + "\n")
	return err
}

func (p *Package) writeModel(w *bufio.Writer) error {
	w.WriteString(xmlHeader + `<model unit="millimeter" xml:lang="en-US" xmlns="` + uriCore + `">` + "\n")
	for _, m := range p.Metadata {
		fmt.Fprintf(w, "<metadata name=\"%s\">%s</metadata>\n", m.Name, escape(m.Value))
	}
	w.WriteString("<resources>\n")
	id := 1
	if len(p.Materials) > 0 {
		w.WriteString(`<basematerials id="1">` + "\n")
		for _, m := range p.Materials {
			fmt.Fprintf(w, "<base name=\"%s\" displaycolor=\"%s\"/>\n", escape(m.Name), m.Color)
		}
		w.WriteString("</basematerials>\n")
		id = 2
	}
	first := id
	for _, o := range p.Objects {
		fmt.Fprintf(w, `<object id="%d" type="model"`, id)
		if o.Name != "" {
			fmt.Fprintf(w, ` name="%s"`, escape(o.Name))
		}
		if o.PartNumber != "" {
			fmt.Fprintf(w, ` partnumber="%s"`, escape(o.PartNumber))
		}
		if o.Material >= 0 {
			fmt.Fprintf(w, ` pid="1" pindex="%d"`, o.Material)
		}
		w.WriteString(">\n")
		writeMesh(w, o.Mesh)
		w.WriteString("</object>\n")
		id++
	}
	w.WriteString("</resources>\n<build>\n")
	for i, o := range p.Objects {
		if len(o.Places) == 0 {
			fmt.Fprintf(w, "<item objectid=\"%d\"/>\n", first+i)
		}
		for _, t := range o.Places {
			fmt.Fprintf(w, `<item objectid="%d"`, first+i)
			if t != Identity() {
				w.WriteString(` transform="`)
				for k, v := range t {
					if k > 0 {
						w.WriteByte(' ')
					}
					w.WriteString(strconv.FormatFloat(v+0, 'f', -1, 64)) // + 0 turns -0 into 0
				}
				w.WriteByte('"')
			}
			w.WriteString("/>\n")
		}
	}
	_, err := w.WriteString("</build>\n</model>\n")
	return err // of a bufio.Writer: the first one that occurred
}

// writeMesh writes coordinates with as many digits as give the same float32 back.
func writeMesh(w *bufio.Writer, m *mesh.Mesh) {
	w.WriteString("<mesh>\n<vertices>\n")
	line := make([]byte, 0, 256)
	for _, v := range m.Vertices {
		line = append(line[:0], "<vertex"...)
		for axis, c := range v {
			line = append(line, ' ', "xyz"[axis], '=', '"')
			line = strconv.AppendFloat(line, float64(c)+0, 'f', -1, 32)
			line = append(line, '"')
		}
		line = append(line, "/>\n"...)
		w.Write(line)
	}
	w.WriteString("</vertices>\n<triangles>\n")
	for _, t := range m.Triangles {
		line = append(line[:0], "<triangle"...)
		for corner, v := range t {
			line = append(line, ' ', 'v', byte('1'+corner), '=', '"')
			line = strconv.AppendUint(line, uint64(v), 10)
			line = append(line, '"')
		}
		line = append(line, "/>\n"...)
		w.Write(line)
	}
	w.WriteString("</triangles>\n</mesh>\n")
}

var escaper = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;", "\t", "&#9;", "\n", "&#10;", "\r", "&#13;")

// escape makes text safe in an attribute and between tags; line ends survive in both.
func escape(s string) string { return escaper.Replace(s) }
