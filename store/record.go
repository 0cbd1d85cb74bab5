package store

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
)

// Record is one entry of a night's journal. The store understands none of it
// but the number.
type Record struct {
	Seq  uint64 // 1, 2, 3 ... within its night
	Kind uint16 // the caller's
	Wall int64  // the caller's: nanoseconds since 1970 UTC
	Data []byte // at most MaxData bytes
}

// MaxData is the largest Record.Data, in bytes.
const MaxData = 1 << 20

// A record's value on disk, big-endian:
//
//	1 version  4 night  2 kind  8 wall  n data  4 CRC-32C
//
// The CRC covers the 8-byte key (the record's number) and the value up to the
// CRC. The night stands inside so that a record found on a loose page still
// says whose it is.
const (
	recordVersion = 1
	recordHead    = 1 + 4 + 2 + 8
	recordTail    = 4
)

// castagnoli is CRC-32C (polynomial 0x1EDC6F41, as in RFC 3720): it finds every
// single flipped bit and every burst of up to 32 bits, and CPUs compute it.
var castagnoli = crc32.MakeTable(crc32.Castagnoli)

var errRecord = errors.New("record does not match its checksum")

// encodeRecord returns r's value with room for the CRC, which needs the number
// and is set by sealRecord.
func encodeRecord(night uint32, r Record) []byte {
	v := make([]byte, recordHead+len(r.Data)+recordTail)
	v[0] = recordVersion
	binary.BigEndian.PutUint32(v[1:], night)
	binary.BigEndian.PutUint16(v[5:], r.Kind)
	binary.BigEndian.PutUint64(v[7:], uint64(r.Wall))
	copy(v[recordHead:], r.Data)
	return v
}

// sealRecord writes the CRC for record number seq into v.
func sealRecord(seq uint64, v []byte) {
	key := seqKey(seq)
	binary.BigEndian.PutUint32(v[len(v)-recordTail:], recordCRC(key[:], v[:len(v)-recordTail]))
}

func recordCRC(key, body []byte) uint32 {
	return crc32.Update(crc32.Update(0, castagnoli, key), castagnoli, body)
}

func seqKey(seq uint64) (k [8]byte) {
	binary.BigEndian.PutUint64(k[:], seq)
	return k
}

// decodeRecord reads the stored pair key, value and returns the record and its
// night. Data aliases value. The error wraps errRecord.
func decodeRecord(key, value []byte) (night uint32, r Record, err error) {
	if len(key) != 8 {
		return 0, Record{}, fmt.Errorf("%w: the key has %d bytes, not 8", errRecord, len(key))
	}
	if len(value) < recordHead+recordTail {
		return 0, Record{}, fmt.Errorf("%w: the value has %d bytes, fewer than %d", errRecord, len(value), recordHead+recordTail)
	}
	body := value[:len(value)-recordTail]
	want := binary.BigEndian.Uint32(value[len(body):])
	if got := recordCRC(key, body); got != want {
		return 0, Record{}, fmt.Errorf("%w: it carries %08x, its bytes give %08x", errRecord, want, got)
	}
	if value[0] != recordVersion {
		return 0, Record{}, fmt.Errorf("%w: record version %d, this program knows %d", errRecord, value[0], recordVersion)
	}
	return binary.BigEndian.Uint32(value[1:]), Record{
		Seq:  binary.BigEndian.Uint64(key),
		Kind: binary.BigEndian.Uint16(value[5:]),
		Wall: int64(binary.BigEndian.Uint64(value[7:])),
		Data: value[recordHead:len(body):len(body)],
	}, nil
}

// recorded reports whether key and value are a record, without saying why not.
func recorded(key, value []byte) bool {
	n := len(value) - recordTail
	return len(key) == 8 && n >= recordHead && value[0] == recordVersion &&
		binary.BigEndian.Uint32(value[n:]) == recordCRC(key, value[:n])
}
