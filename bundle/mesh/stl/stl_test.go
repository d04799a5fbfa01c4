package stl

import (
	"bytes"
	"crypto/sha256"
	"reflect"
	"testing"

	"dropwright/bundle/mesh"
)

func binaryOf(t testing.TB, m *mesh.Mesh) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, m); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestRoundTrip(t *testing.T) {
	m := mesh.Torus(30, 10, 120, 60)
	data := binaryOf(t, m)
	back, info, err := Decode(data)
	if err != nil {
		t.Fatal(err)
	}
	if info.Format != Binary || info.Attributes != 0 {
		t.Errorf("info = %+v", info)
	}
	if again := binaryOf(t, back); !bytes.Equal(again, data) {
		t.Error("written, read and written again, the bytes differ")
	}
	s, err := Survey(data)
	if err != nil {
		t.Fatal(err)
	}
	if s.SHA256 != sha256.Sum256(data) {
		t.Error("the hash is not the file's")
	}
	want, _ := mesh.Inspect(back)
	if !reflect.DeepEqual(s.Report, want) {
		t.Errorf("Survey %+v\nInspect %+v", s.Report, want)
	}
	if !reflect.DeepEqual(s.Mesh, back) {
		t.Error("Survey and Decode give different meshes")
	}
}
