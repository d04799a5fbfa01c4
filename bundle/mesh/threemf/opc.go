package threemf

import (
	"archive/zip"
	"errors"
	"fmt"
	"io"
	"path"
	"strconv"
	"strings"
)

// Relationship types and content types as the specifications spell them (core appendix C; OPC annex F).
const (
	relModel     = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
	relThumbnail = "http://schemas.openxmlformats.org/package/2006/relationships/metadata/thumbnail"
	relTicket    = "http://schemas.microsoft.com/3dmanufacturing/2013/01/printticket"

	uriRelations    = "http://schemas.openxmlformats.org/package/2006/relationships"
	uriContentTypes = "http://schemas.openxmlformats.org/package/2006/content-types"

	typeModel     = "application/vnd.ms-package.3dmanufacturing-3dmodel+xml"
	typeRelations = "application/vnd.openxmlformats-package.relationships+xml"

	nameContentTypes = "[Content_Types].xml"
	nameRootRels     = "_rels/.rels"
)

// pkg is an open package: the zip's entries by the key of their name.
type pkg struct {
	files map[string]*zip.File // by partKey
	order []*zip.File
	types contentTypes
	kinds map[string]string // by partKey: what a part turned out to be
}

// partKey makes names comparable: OPC part names do not distinguish case, begin with a slash, and may be
// written with %20 in one place and a space in another.
func partKey(name string) string {
	name = "/" + strings.ToLower(strings.TrimPrefix(name, "/"))
	if !strings.Contains(name, "%") {
		return name
	}
	var out strings.Builder
	for i := 0; i < len(name); i++ {
		if name[i] == '%' && i+3 <= len(name) {
			if c, err := strconv.ParseUint(name[i+1:i+3], 16, 8); err == nil && c != '/' && c != '\\' && c != 0 {
				out.WriteByte(byte(c))
				i += 2
				continue
			}
		}
		out.WriteByte(name[i])
	}
	return strings.ToLower(out.String())
}

// budget refuses to read more than so many bytes. It guards the opening of the zip, where a directory
// that lists more entries than it announces would cost memory before anything could be counted.
type budget struct {
	r    io.ReaderAt
	left int64 // < 0: no limit
}

var errDirectory = fmt.Errorf("the zip directory is larger than %d bytes", maxDirectory)

func (b *budget) ReadAt(p []byte, off int64) (int, error) {
	if b.left >= 0 {
		if int64(len(p)) > b.left {
			return 0, errDirectory
		}
		b.left -= int64(len(p))
	}
	return b.r.ReadAt(p, off)
}

func openPackage(r io.ReaderAt, size int64) (*pkg, error) {
	guard := &budget{r: r, left: maxDirectory}
	zr, err := zip.NewReader(guard, size)
	if err != nil {
		if errors.Is(err, zip.ErrFormat) {
			return nil, errors.New("not a zip archive or cut off: a 3MF file is a zip archive, export or download it again")
		}
		return nil, fmt.Errorf("zip archive: %w", err)
	}
	guard.left = -1
	if len(zr.File) > maxEntries {
		return nil, fmt.Errorf("the zip archive has %d entries, more than %d", len(zr.File), maxEntries)
	}
	p := &pkg{files: make(map[string]*zip.File), kinds: make(map[string]string)}
	total := uint64(0)
	for _, f := range zr.File {
		if err := checkEntry(f); err != nil {
			return nil, err
		}
		if strings.HasSuffix(f.Name, "/") {
			continue // a folder: OPC has none, tolerated as every reader does
		}
		if _, twice := p.files[partKey(f.Name)]; twice {
			return nil, fmt.Errorf("the zip archive holds %q twice (case does not count): it cannot be known which one is meant", f.Name)
		}
		if total += f.UncompressedSize64; total > maxUnpacked || f.UncompressedSize64 > maxUnpacked {
			return nil, fmt.Errorf("the zip archive unpacks to more than %d MiB", maxUnpacked>>20)
		}
		p.files[partKey(f.Name)] = f
		p.order = append(p.order, f)
	}
	// Entries may overlap in the file: the sum is held against the size of the file too.
	if total > ratioFloor && total/maxRatio > uint64(size) {
		return nil, fmt.Errorf("the zip archive unpacks to %d times its size, more than %d: it looks like a zip bomb", total/uint64(size), maxRatio)
	}
	if p.types, err = p.readContentTypes(); err != nil {
		return nil, err
	}
	return p, nil
}

// checkEntry refuses names that are no OPC part names (2.2.3) and entries that 3MF does not allow (appendix C).
func checkEntry(f *zip.File) error {
	name := f.Name
	if strings.Contains(name, "\\") {
		return fmt.Errorf("the name %q in the zip archive holds a backslash: parts are separated by slashes", name)
	}
	for i, segment := range strings.Split(strings.TrimSuffix(name, "/"), "/") {
		if segment == "" && i == 0 && len(name) > 1 {
			return fmt.Errorf("the name %q in the zip archive is absolute", name)
		}
		if segment == "" || strings.HasSuffix(segment, ".") {
			return fmt.Errorf("the name %q in the zip archive has a segment that is empty or ends in a dot", name)
		}
	}
	if f.Flags&1 != 0 {
		return fmt.Errorf("the part %q is encrypted: a 3MF package must not be", name)
	}
	if f.Method != zip.Store && f.Method != zip.Deflate {
		return fmt.Errorf("the part %q is packed with method %d: a 3MF package allows only stored and deflate", name, f.Method)
	}
	if f.UncompressedSize64 > ratioFloor && f.UncompressedSize64/maxRatio > f.CompressedSize64 {
		return fmt.Errorf("the part %q unpacks to more than %d times its size: it looks like a zip bomb", name, maxRatio)
	}
	return nil
}

// open returns a reader of a part that checks its length and CRC at its end.
func (p *pkg) open(key string) (io.ReadCloser, *zip.File, error) {
	f := p.files[key]
	if f == nil {
		return nil, nil, fmt.Errorf("the package has no part %q", key)
	}
	if f.Method == zip.Deflate {
		raw, err := f.OpenRaw()
		if err != nil {
			return nil, nil, fmt.Errorf("part %q: %w", f.Name, err)
		}
		return &checked{r: newInflater(raw), left: int64(f.UncompressedSize64), want: f.CRC32}, f, nil
	}
	r, err := f.Open()
	if err != nil {
		return nil, nil, fmt.Errorf("part %q: %w", f.Name, err)
	}
	return r, f, nil
}

// contentTypes is [Content_Types].xml.
type contentTypes struct {
	byExtension, byPart map[string]string
}

func (c contentTypes) of(name string) string {
	if t, ok := c.byPart[partKey(name)]; ok {
		return t
	}
	return c.byExtension[strings.ToLower(strings.TrimPrefix(path.Ext(name), "."))]
}

func (p *pkg) readContentTypes() (contentTypes, error) {
	c := contentTypes{make(map[string]string), make(map[string]string)}
	key := partKey(nameContentTypes)
	if p.files[key] == nil {
		return c, fmt.Errorf("the zip archive has no %s: it is not a 3MF package", nameContentTypes)
	}
	p.kinds[key] = KindContentTypes
	err := p.eachElement(key, "Types", uriContentTypes, func(s *scanner, local string) error {
		var into map[string]string
		var named string
		switch local {
		case "Default":
			into, named = c.byExtension, "Extension"
		case "Override":
			into, named = c.byPart, "PartName"
		default:
			return nil
		}
		name, ok, err := s.attr(spaceNone, named)
		if err != nil {
			return err
		}
		value, hasType, err := s.attr(spaceNone, "ContentType")
		if err != nil {
			return err
		}
		if !ok || !hasType {
			return s.fail("%s without %s or ContentType", local, named)
		}
		if local == "Override" {
			name = partKey(name)
		} else {
			name = strings.ToLower(name)
		}
		into[name] = value
		return nil
	})
	return c, err
}

// relation is one relationship, its target resolved to a part key.
type relation struct {
	kind, target string
}

// relsOf is the name of the relationships part of a part key; of the package for "/".
func relsOf(key string) string {
	dir, base := path.Split(key)
	return partKey(dir + "_rels/" + base + ".rels")
}

// relations reads the relationships of a part, or of the package for "/". A part without any has none.
func (p *pkg) relations(source string) ([]relation, error) {
	key := relsOf(source)
	if p.files[key] == nil {
		return nil, nil
	}
	p.kinds[key] = KindRelations
	var all []relation
	seen := make(map[relation]bool)
	err := p.eachElement(key, "Relationships", uriRelations, func(s *scanner, local string) error {
		if local != "Relationship" {
			return nil
		}
		kind, _, err := s.attr(spaceNone, "Type")
		if err != nil {
			return err
		}
		target, ok, err := s.attr(spaceNone, "Target")
		if err != nil {
			return err
		}
		mode, _, err := s.attr(spaceNone, "TargetMode")
		if err != nil {
			return err
		}
		switch {
		case !ok || target == "":
			return s.fail("a relationship without Target")
		case strings.EqualFold(mode, "External") || strings.Contains(target, "://"):
			return s.fail("the relationship to %q leads out of the package: a 3MF package must hold all it needs", clip([]byte(target)))
		case strings.Contains(target, "\\"):
			return s.fail("the target %q holds a backslash", clip([]byte(target)))
		}
		if !strings.HasPrefix(target, "/") {
			target = path.Join(path.Dir(source), target)
		}
		r := relation{kind, partKey(path.Clean(target))}
		// 2.1.2: not two of one type between the same two parts.
		if seen[r] {
			return s.fail("two relationships of one type to %q", clip([]byte(target)))
		}
		seen[r] = true
		switch kind {
		case relModel, relThumbnail, relTicket:
			if p.files[r.target] == nil {
				return s.fail("the part %q that a relationship names is not in the package", clip([]byte(target)))
			}
		}
		all = append(all, r)
		return nil
	})
	return all, err
}

// eachElement reads a small flat XML part: a root of that name, and do for each of its children.
func (p *pkg) eachElement(key, root, uri string, do func(s *scanner, local string) error) error {
	r, f, err := p.open(key)
	if err != nil {
		return err
	}
	defer r.Close()
	if f.UncompressedSize64 > maxSmallPart {
		return fmt.Errorf("the part %q is larger than %d MiB", f.Name, maxSmallPart>>20)
	}
	s := newScanner(f.Name, r)
	for {
		k, err := s.next()
		if err != nil {
			return err
		}
		switch {
		case k == atEnd:
			return nil
		case k != atStart:
		case len(s.open) == 1:
			prefix, local := splitName([]byte(s.open[0]))
			if got, _ := s.uri(string(prefix)); string(local) != root || got != uri {
				return s.fail("the root element is %q, it must be %q of %s", clip([]byte(s.open[0])), root, uri)
			}
		case len(s.open) == 2:
			if err := do(s, string(s.local)); err != nil {
				return err
			}
		}
	}
}
