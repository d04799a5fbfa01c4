package measure

import (
	"io/fs"
	"os"

	"dropwright/bundle/mesh"
)

// mapFrom is the size from which a file on disk is mapped: below it, mapping costs more than reading.
const mapFrom = 1 << 18

// opened is a file's bytes, mapped or read.
type opened struct {
	data    []byte
	mapping *mesh.Mapping
	file    fs.File
}

// open gives a file's bytes: mapped when it is a large file on disk, read otherwise. They are not to be used
// after close.
func open(fsys fs.FS, name string) (*opened, error) {
	f, err := fsys.Open(name)
	if err != nil {
		return nil, err
	}
	if osf, ok := f.(*os.File); ok {
		if st, err := osf.Stat(); err == nil && st.Mode().IsRegular() && st.Size() >= mapFrom && st.Size() <= MaxMesh {
			if m, err := mesh.Map(osf); err == nil {
				return &opened{m.Bytes, m, f}, nil
			}
		}
	}
	f.Close()
	data, err := readAll(fsys, name, MaxMesh)
	if err != nil {
		return nil, err
	}
	return &opened{data: data}, nil
}

// unchanged is an error when the file changed while its bytes were used.
func (o *opened) unchanged() error {
	if o.mapping == nil {
		return nil
	}
	return o.mapping.Unchanged()
}

func (o *opened) close() {
	if o.mapping != nil {
		o.mapping.Close()
		o.file.Close()
	}
}
