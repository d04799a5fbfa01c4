package bom

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"path"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"
)

// sideName is the name of the worksheet that holds the variants side by side.
const sideName = "side by side"

// WriteXLSX writes a workbook (ISO/IEC 29500-1): one worksheet for each variant with the rows of the bill, and, where
// there are several, one with the variants side by side. Numbers are numbers and times are durations, so that a
// spreadsheet can add them up; every text is a text cell and never a formula. The same bill gives the same bytes.
func (b BOM) WriteXLSX(w io.Writer) error {
	f := excelize.NewFile()
	defer f.Close()
	// A fixed day: the one that zip archives begin with. The workbook must not tell when it was written.
	const day = "1980-01-01T00:00:00Z"
	if err := f.SetDocProps(&excelize.DocProperties{Title: fmt.Sprintf("%s %s: bill of materials for %s", text(b.Title, b.Design), b.Revision, builds(b.Builds)), Creator: "dropwright", LastModifiedBy: "dropwright", Created: day, Modified: day}); err != nil {
		return err
	}
	k, err := stylesOf(f)
	if err != nil {
		return err
	}
	var names []string
	sheet := func(name string) (string, error) {
		name = sheetName(name, names)
		names = append(names, name)
		if len(names) == 1 {
			return name, f.SetSheetName("Sheet1", name)
		}
		_, err := f.NewSheet(name)
		return name, err
	}
	all := b.Rows()
	for _, v := range b.Variants {
		name, err := sheet(v.Variant)
		if err != nil {
			return err
		}
		if err := k.rows(f, name, v.Variant, all); err != nil {
			return err
		}
	}
	if s := b.Beside(); len(s.Rows) > 0 {
		name, err := sheet(sideName)
		if err != nil {
			return err
		}
		if err := k.beside(f, name, s); err != nil {
			return err
		}
	}
	raw, err := f.WriteToBuffer()
	if err != nil {
		return err
	}
	return repack(w, raw.Bytes())
}

// sheetName makes a name that spreadsheets take: at most 31 characters, none of []:*?/\, not yet used in any case.
func sheetName(name string, used []string) string {
	name = strings.Map(func(r rune) rune {
		if strings.ContainsRune(`[]:*?/\'`, r) {
			return '-'
		}
		return r
	}, name)
	if name == "" {
		name = "variant"
	}
	cut := func(n int) string {
		r := []rune(name)
		return string(r[:min(len(r), n)])
	}
	out := cut(31)
	for n := 2; slices.ContainsFunc(used, func(u string) bool { return strings.EqualFold(u, out) }); n++ {
		tail := fmt.Sprintf(" %d", n)
		out = cut(31-len(tail)) + tail
	}
	return out
}

// styles are the formats of a workbook's cells, by what stands in them.
type styles struct{ head, plain, cents, time map[bool]int }

// stylesOf makes them; true is for lines that differ: bold in a frame, so that they stand out in print too.
func stylesOf(f *excelize.File) (*styles, error) {
	k := &styles{}
	duration := "[h]:mm:ss"
	for _, x := range []struct {
		to     *map[bool]int
		format int
		custom *string
		head   bool
	}{{to: &k.head, head: true}, {to: &k.plain}, {to: &k.cents, format: 2}, {to: &k.time, custom: &duration}} {
		*x.to = map[bool]int{}
		for _, differs := range []bool{false, true} {
			s := &excelize.Style{NumFmt: x.format, CustomNumFmt: x.custom, Alignment: &excelize.Alignment{Vertical: "top"}}
			if x.head {
				s.Border = []excelize.Border{{Type: "bottom", Color: "000000", Style: 1}}
			}
			if x.head || differs {
				s.Font = &excelize.Font{Bold: true}
			}
			if differs {
				s.Border = []excelize.Border{{Type: "left", Color: "000000", Style: 5}}
			}
			id, err := f.NewStyle(s)
			if err != nil {
				return nil, err
			}
			(*x.to)[differs] = id
		}
	}
	return k, nil
}

// put sets one cell: a number, a duration in seconds, or text.
func (k *styles) put(f *excelize.File, name string, column, row int, cell string, seconds *float64, differs, figure bool) error {
	at, err := excelize.CoordinatesToCellName(column, row)
	if err != nil {
		return err
	}
	style := k.plain[differs]
	if x, err := strconv.ParseFloat(cell, 64); err == nil && figure {
		if i := strings.IndexByte(cell, '.'); i >= 0 && len(cell)-i == 3 {
			style = k.cents[differs]
		}
		if err := f.SetCellValue(name, at, x); err != nil {
			return err
		}
	} else if seconds != nil {
		style = k.time[differs]
		// A day is 1; whole seconds.
		if err := f.SetCellValue(name, at, float64(int64(*seconds+0.5))/86400); err != nil {
			return err
		}
	} else if cell != "" {
		if err := f.SetCellStr(name, at, clipped(cell)); err != nil {
			return err
		}
	}
	return f.SetCellStyle(name, at, at, style)
}

// clipped keeps a text within what a cell holds: 32,767 characters (limits of the workbook format's best-known reader).
func clipped(s string) string {
	r := []rune(s)
	return string(r[:min(len(r), excelize.TotalCellChars)])
}

func (k *styles) line(f *excelize.File, name string, heads []string, widths []float64) error {
	for i, h := range heads {
		at, err := excelize.CoordinatesToCellName(i+1, 1)
		if err != nil {
			return err
		}
		if err := f.SetCellStr(name, at, h); err != nil {
			return err
		}
		if err := f.SetCellStyle(name, at, at, k.head[false]); err != nil {
			return err
		}
		column, err := excelize.ColumnNumberToName(i + 1)
		if err != nil {
			return err
		}
		if err := f.SetColWidth(name, column, column, widths[i]); err != nil {
			return err
		}
	}
	landscape, width, tall := "landscape", 1, 0
	if err := f.SetPageLayout(name, &excelize.PageLayoutOptions{Orientation: &landscape, FitToWidth: &width, FitToHeight: &tall}); err != nil {
		return err
	}
	fit := true
	if err := f.SetSheetProps(name, &excelize.SheetPropsOptions{FitToPage: &fit}); err != nil {
		return err
	}
	return f.SetPanes(name, &excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"})
}

// rows fills the worksheet of one variant.
func (k *styles) rows(f *excelize.File, name, variant string, all []Row) error {
	heads := Heads[1:]
	widths := []float64{10, 32, 48, 9, 7, 8, 9, 9, 10, 10, 40}
	if err := k.line(f, name, heads, widths); err != nil {
		return err
	}
	n := 2
	for _, r := range all {
		if r.Variant != variant {
			continue
		}
		for i, c := range r.Cells()[1:] {
			seconds := r.seconds
			if heads[i] != "time" {
				seconds = nil
			}
			if err := k.put(f, name, i+1, n, c, seconds, false, isFigure(heads[i])); err != nil {
				return err
			}
		}
		n++
	}
	return nil
}

// beside fills the worksheet of the variants side by side.
func (k *styles) beside(f *excelize.File, name string, s Beside) error {
	heads, rows := s.Table()
	widths := make([]float64, len(heads))
	for i := range widths {
		widths[i] = 24
	}
	widths[0], widths[1], widths[2], widths[3] = 4, 32, 48, 7
	if err := k.line(f, name, heads, widths); err != nil {
		return err
	}
	for n, cells := range rows {
		r := s.Rows[n]
		for i, c := range cells {
			var seconds *float64
			figure := false
			if v := i - 4; v >= 0 && v < len(r.Cells) {
				c, figure = r.Cells[v], true
				seconds = r.Seconds[v]
			}
			if err := k.put(f, name, i+1, n+2, c, seconds, r.Differs, figure); err != nil {
				return err
			}
		}
	}
	return nil
}

// repack writes the workbook's files in the order of their names, all of one time, so that the same bill gives the
// same bytes; the list of content types comes first, as readers that stream expect it.
func repack(w io.Writer, raw []byte) error {
	in, err := zip.NewReader(bytes.NewReader(raw), int64(len(raw)))
	if err != nil {
		return err
	}
	files := slices.Clone(in.File)
	const types = "[Content_Types].xml"
	slices.SortFunc(files, func(a, b *zip.File) int {
		if (path.Base(a.Name) == types) != (path.Base(b.Name) == types) {
			if a.Name == types {
				return -1
			}
			return 1
		}
		return strings.Compare(a.Name, b.Name)
	})
	out := zip.NewWriter(w)
	for _, x := range files {
		from, err := x.Open()
		if err != nil {
			return err
		}
		to, err := out.CreateHeader(&zip.FileHeader{Name: x.Name, Method: zip.Deflate, Modified: time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)})
		if err == nil {
			_, err = io.Copy(to, from)
		}
		from.Close()
		if err != nil {
			return err
		}
	}
	return out.Close()
}
