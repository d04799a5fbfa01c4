package stl

import (
	"crypto/sha256"
	"sync"

	"dropwright/bundle/mesh"
)

// Result is all that one pass over a file finds.
type Result struct {
	SHA256 [32]byte // of the file, also where it cannot be read as a mesh
	Info   Info
	Mesh   *mesh.Mesh // the mesh that Report speaks of
	Report mesh.Report
}

// Survey reads an STL file, hashes it, welds and inspects the mesh, in one pass and on as many
// processors as there are. The result does not depend on their number. The error is an *Error, or a
// *mesh.FaultError where data is a mapped file that was cut short meanwhile.
func Survey(data []byte) (Result, error) {
	var r Result
	err := mesh.Guard(func() error { return r.survey(data) })
	return r, err
}

func (r *Result) survey(data []byte) error {
	format, err := detect(data)
	if err != nil {
		r.SHA256 = sha256.Sum256(data)
		return err
	}
	if format == Binary {
		return r.surveyBinary(data)
	}
	var wait sync.WaitGroup
	var hashErr error
	wait.Go(func() {
		hashErr = mesh.Guard(func() error { r.SHA256 = sha256.Sum256(data); return nil })
	})
	m, info, err := decodeASCII(data)
	wait.Wait()
	if err == nil {
		err = hashErr
	}
	if err != nil {
		return err
	}
	r.Info = info
	r.Report, r.Mesh = mesh.Inspect(m)
	return nil
}

func (r *Result) surveyBinary(data []byte) error {
	hash := sha256.New()
	hash.Write(data[:dataStart])
	r.Info = binaryInfo(data)
	var err error
	r.Report, r.Mesh, err = mesh.Survey(facets(data), func(from, to int) {
		hash.Write(data[dataStart+from*facetSize : dataStart+to*facetSize])
		r.Info.Attributes += attributes(data, from, to)
	})
	hash.Sum(r.SHA256[:0])
	if err != nil {
		return binaryError(err)
	}
	return nil
}
