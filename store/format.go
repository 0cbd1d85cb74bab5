package store

import (
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
)

// Format is the number of the file format that this program writes.
const Format = 1

// The buckets of a store. All values but records and buckets are sealed (see
// seal).
//
//	meta      "store" -> storeDoc
//	nights    night number (4 bytes) -> nightDoc
//	journals  night number (4 bytes) -> bucket: record number (8 bytes) -> record;
//	          the bucket's sequence is the number of the last record
//	register  kind 0 id -> document; the bucket's sequence counts all changes
//	history   kind 0 id 0 revision (8 bytes) -> document
const (
	bucketMeta     = "meta"
	bucketNights   = "nights"
	bucketJournals = "journals"
	bucketRegister = "register"
	bucketHistory  = "history"
	keyStore       = "store"
)

// storeDoc describes the file. Its place and its field "format" stay the same in
// all formats to come, so that an older program can tell a newer file.
type storeDoc struct {
	Format       uint32 `json:"format"`
	FileID       string `json:"file_id"`
	Created      int64  `json:"created"` // unix nanoseconds
	CreatedBy    string `json:"created_by,omitempty"`
	SalvagedFrom string `json:"salvaged_from,omitempty"`
}

// nightDoc describes a night. Missing lists numbers known to be lost, ascending.
type nightDoc struct {
	ID      string  `json:"id"`
	Created int64   `json:"created"` // unix nanoseconds
	Meta    []byte  `json:"meta,omitempty"`
	Missing []Range `json:"missing,omitempty"`
}

var errSeal = errors.New("value does not match its checksum")

const sealVersion = 1

// seal wraps payload for bucket and key: 1 version, payload, 4 CRC-32C over
// bucket, 0, key, 0, version and payload.
func seal(bucket string, key, payload []byte) []byte {
	v := make([]byte, 0, 1+len(payload)+4)
	v = append(v, sealVersion)
	v = append(v, payload...)
	return binary.BigEndian.AppendUint32(v, sealCRC(bucket, key, v))
}

// unseal returns the payload, which aliases value. The error wraps errSeal.
func unseal(bucket string, key, value []byte) ([]byte, error) {
	if len(value) < 5 {
		return nil, fmt.Errorf("%w: %d bytes are too few", errSeal, len(value))
	}
	body := value[:len(value)-4]
	want, got := binary.BigEndian.Uint32(value[len(body):]), sealCRC(bucket, key, body)
	if want != got {
		return nil, fmt.Errorf("%w: it carries %08x, its bytes give %08x", errSeal, want, got)
	}
	if body[0] != sealVersion {
		return nil, fmt.Errorf("%w: version %d, this program knows %d", errSeal, body[0], sealVersion)
	}
	return body[1:], nil
}

// sealed reports whether value is a sealed value under key, without saying why not.
func sealed(bucket string, key, value []byte) bool {
	n := len(value) - 4
	return n >= 1 && value[0] == sealVersion && binary.BigEndian.Uint32(value[n:]) == sealCRC(bucket, key, value[:n])
}

func sealCRC(bucket string, key, body []byte) uint32 {
	c := crc32.Update(0, castagnoli, []byte(bucket))
	c = crc32.Update(c, castagnoli, []byte{0})
	c = crc32.Update(c, castagnoli, key)
	c = crc32.Update(c, castagnoli, []byte{0})
	return crc32.Update(c, castagnoli, body)
}

func sealJSON(bucket string, key []byte, doc any) ([]byte, error) {
	b, err := json.Marshal(doc)
	if err != nil {
		return nil, err
	}
	return seal(bucket, key, b), nil
}

func unsealJSON(bucket string, key, value []byte, doc any) error {
	b, err := unseal(bucket, key, value)
	if err != nil {
		return err
	}
	return json.Unmarshal(b, doc)
}

func nightKey(n uint32) []byte { return binary.BigEndian.AppendUint32(nil, n) }
