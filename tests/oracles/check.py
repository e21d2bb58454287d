#!/usr/bin/env python3
"""Compares Letfall with independent readers: mido, pretty_midi, pypdf, qpdf, pdftotext, scipy and Python's csv.

  check.py grid|midi|paper|sheets|fall|sound|table LETFALL WORKDIR [CORPUS]

Prints what it measured; exits non-zero with a sentence where something is off. Run by `cargo xtask test`.
"""
import csv, json, math, os, random, re, subprocess, sys
from fractions import Fraction

LETFALL, WORK = sys.argv[2], sys.argv[3]
ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
DEMOS = [os.path.join(ROOT, 'demo-shows', n + '.letfall') for n in ('lantern-night', 'first-opener', 'three-houses')]


def letfall(*args):
    r = subprocess.run([LETFALL, *args], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    if r.returncode:
        sys.exit(f'letfall {" ".join(args)}: {r.stderr.decode()}')
    return r.stdout.decode()


def lines(*args):
    return [json.loads(l) for l in letfall(*args).splitlines()]


def need(ok, what):
    if not ok:
        sys.exit(what)


def services(show):
    with open(show, encoding='utf-8') as f:
        return [s['name'] for s in json.load(f)['show']['services']]


# ---- grid: bar lines of real files -------------------------------------------------------------------------------

def bar_ticks(meters, ppq, end):
    """Bar lines by SMF 1.1: 4/4 until said otherwise, and a time signature begins a bar. Exact fractions of a tick."""
    at = {0: (4, 4)}
    at.update(dict(meters))          # the last event at a tick wins
    marks = sorted(at.items())
    out = []
    for (tick, (n, d)), nxt in zip(marks, [m[0] for m in marks[1:]] + [end]):
        length, t = Fraction(4 * ppq * n, d), Fraction(tick)
        while t < nxt:
            out.append(t)
            t += length
    return out


def seconds(tempos, ppq):
    """A function from exact ticks to exact seconds times 1e6."""
    at = {0: 500000}
    at.update(dict(tempos))
    marks, starts, t = sorted(at.items()), [], Fraction(0)
    for i, (tick, us) in enumerate(marks):
        if i:
            t += Fraction((tick - marks[i - 1][0]) * marks[i - 1][1], ppq)
        starts.append(t)

    def f(x):
        i = max(k for k, m in enumerate(marks) if m[0] <= x)
        return starts[i] + (x - marks[i][0]) * Fraction(marks[i][1], ppq)
    return f, len(marks)


def grid():
    import mido, pretty_midi, warnings
    warnings.simplefilter('ignore')
    corpus = sys.argv[4]
    with open(os.path.join(corpus, 'corpus.json')) as f:
        files = json.load(f)
    compared = both = 0
    for entry in files:
        path = os.path.join(corpus, entry['path'])
        mid = mido.MidiFile(path, clip=True)
        tempos, meters, end = [], [], 0
        for track in mid.tracks:
            t = 0
            for m in track:
                t += m.time
                end = max(end, t)
                if m.type == 'set_tempo':
                    tempos.append((t, m.tempo))
                elif m.type == 'time_signature':
                    meters.append((t, (m.numerator, m.denominator)))
        tempos.sort(key=lambda e: e[0])
        meters.sort(key=lambda e: e[0])
        time, changes = seconds(tempos, mid.ticks_per_beat)
        theirs = bar_ticks(meters, mid.ticks_per_beat, end)
        ours = [l for l in lines('grid', path, '--json') if l['type'] == 'bar']
        need(len(ours) >= len(theirs), f"{entry['id']}: {len(ours)} bars here, {len(theirs)} there")
        try:
            pm = pretty_midi.PrettyMIDI(path)
        except OSError:
            pm = None                # a data byte over 127: pretty_midi refuses the whole file
        if entry['late_tracks']:
            pm = None                # it reads tempo from the first track only, which this file's tempo is not in
        worst = worst_pm = 0.0
        for bar, tick in zip(ours, theirs):
            off = abs(float(time(tick)) - bar['at_us'])
            worst = max(worst, off)
            if pm is not None and tick.denominator == 1 and tick <= end:
                worst_pm = max(worst_pm, abs(pm.tick_to_time(int(tick)) * 1e6 - bar['at_us']))
        limit = min(1.0 * max(changes, 1), 100.0)
        need(worst <= limit and worst_pm <= limit, f"{entry['id']}: {worst:.3f} µs from mido, {worst_pm:.3f} µs from pretty_midi, {limit} µs allowed")
        compared += pm is not None
        both += entry['both'] and pm is not None
        print(f"{entry['id']:14} {len(theirs):5} bars, {changes:4} tempos, {entry['metre_changes']:3} metre changes: "
              f"{worst:6.3f} µs from mido, " + (f"{worst_pm:6.3f} µs from pretty_midi" if pm is not None else "not for pretty_midi"))
    need(compared >= 10 and both >= 10, f'only {compared} files were compared, {both} of them with tempo and metre changes')
    print(f'{len(files)} files compared, {both} of them with tempo and metre changes')


# ---- midi: a ten-minute song with ramps, read back by mido -----------------------------------------------------------

def long_show(path):
    """600 s and more, a ramp every eight bars, changing metres, every sort of message, some cues on the clock."""
    rng = random.Random(20261219)
    tempos, metres, bpm = [], [{'bar': 1, 'metre': '4/4'}], 96.0
    for i in range(40):
        bar = 1 + 8 * i
        nxt = rng.choice([66.0, 72.5, 84.0, 97.0, 113.25, 126.0, 140.0, 151.0])
        mark = {'at': f'{bar}|1', 'tempo': f'{bpm:g}'}
        if i % 2 and i < 39:
            mark['ramp'] = {'to': f'{nxt:g}', 'law': 'bpm-linear-in-beats'}
        tempos.append(mark)
        bpm = nxt
        if i:
            metres.append({'bar': bar, 'metre': rng.choice(['4/4', '3/4', '6/8', '7/8 2+2+3', '5/4 3+2'])})
    msgs = [{'note': {'key': k, 'velocity': 1 + k, 'length_us': 120000}} for k in range(100)]
    msgs += [{'program': {'number': k}} for k in range(100)]
    msgs += [{'control': {'controller': k, 'value': 127 - k}} for k in range(100)]
    msgs += [{'show-control': {'go': {'cue': f'{k}.5', 'list': '2'}}} for k in range(100)]
    msgs += [{'sysex': f'F0 7D {k:02X} 01 F7'} for k in range(100)]
    presets = [{'key': f'p{i}', 'name': f'Preset {i} é 夜', 'receiver': ['one', 'two'][i % 2], 'message': m, 'fade_us': 1000 * i} for i, m in enumerate(msgs)]
    cues = []
    for i in range(len(msgs)):
        at = f'{rng.uniform(0, 620):.6f}s' if i % 7 == 0 else f'{rng.randint(1, 320)}|{rng.randint(1, 2)}+{rng.randint(0, 900)}'
        if i % 11 == 0 and '|' in at:
            at += f' {rng.uniform(-0.3, 0.3):+.6f}s'
        cues.append({'label': f'L{i + 1}', 'track': 'l', 'at': at, 'does': {'lighting': {'preset': f'p{i}', 'share': rng.choice(['start', 'half', 'done'])}}})
    dev = {'port': 'p', 'device': 1, 'format': 1}
    show = {'title': 'Long', 'ports': [{'key': 'p', 'name': 'P'}], 'presets': presets, 'tracks': [{'key': 'l', 'name': 'L', 'kind': 'lighting'}],
            'receivers': [{'key': 'one', 'name': 'One', 'channel': 1, 'latency': {'mean_us': 33333}, **dev}, {'key': 'two', 'name': 'Two', 'channel': 2, **dev}],
            'services': [{'name': 'S', 'timecode': {'at': '10:00:00:00', 'rate': '29.97df'},
                          'song': {'title': 'T', 'bars': 320, 'grid': {'metres': metres, 'tempos': tempos}}, 'cues': cues}]}
    with open(path, 'w') as f:
        json.dump({'letfall': 1, 'show': show}, f)


def midi():
    import mido
    show = os.path.join(WORK, 'long.letfall')
    long_show(show)
    plan = {l['label']: l for l in lines('schedule', show, '--json')}
    need(max(l['send_us'] for l in plan.values()) > 600e6, 'the long show is shorter than ten minutes')
    for resolution, limit in (('960', 600.0), ('4800', 200.0), ('ms', 500.5)):
        out = os.path.join(WORK, f'long-{resolution}.mid')
        told = letfall('midi', show, '--resolution', resolution, '-o', out)
        start = re.search(r'song time (-?)(\d+):(\d+)\.(\d+)', told)
        origin = 0.0
        if start:
            origin = (int(start[2]) * 60 + int(start[3]) + int(start[4]) / 1000) * (-1 if start[1] else 1)
        mid = mido.MidiFile(out, charset='utf-8')
        tempos, t = [], 0
        for m in mid.tracks[0]:
            t += m.time
            if m.type == 'set_tempo':
                tempos.append((t, m.tempo))
        if resolution == 'ms':
            with open(out, 'rb') as f:
                need(f.read(14)[12:] == bytes.fromhex('E728'), 'the millisecond file does not say E728')
            time = lambda x: x * 1000
        else:
            need(mid.ticks_per_beat == int(resolution), 'another resolution')
            time, _ = seconds(tempos, mid.ticks_per_beat)
        wanted = {}
        for l in plan.values():
            wanted.setdefault(l['bytes'], []).append(l['send_us'])
        offs, seen = [], 0
        for track in mid.tracks[1:]:
            t = 0
            for m in track:
                t += m.time
                if m.is_meta or m.type == 'note_off':
                    continue
                hexed = ' '.join(f'{b:02X}' for b in m.bytes())
                need(wanted.get(hexed), f'a message nobody planned: {hexed}')
                at = float(time(t)) + origin * 1e6
                best = min(wanted[hexed], key=lambda us: abs(us - at))
                wanted[hexed].remove(best)
                offs.append((best, at - best))
                seen += 1
        need(seen == len(plan), f'{seen} messages of {len(plan)} were found')
        worst = max(abs(o) for _, o in offs)
        offs.sort()
        tail = [o for _, o in offs[-50:]]
        drift = abs(sum(tail) / len(tail))
        # `starts at` is told to the millisecond: allow for that half.
        need(worst <= limit + (500 if origin else 0), f'{resolution}: {worst:.1f} µs off, {limit} allowed')
        need(drift <= limit / 2, f'{resolution}: the last 50 messages are {drift:.1f} µs off on average: drift')
        print(f'{resolution:>5}: {seen} messages over {offs[-1][0] / 1e6:.0f} s, worst {worst:.1f} µs, last 50 on average {drift:.1f} µs')
    name = mido.MidiFile(os.path.join(WORK, 'long-960.mid'), charset='utf-8').tracks[0].name
    need(name == 'Long – S – T', f'the name reads {name!r}')


# ---- paper: text and structure of the PDF ----------------------------------------------------------------------------

def squeeze(text):
    return re.sub(r'\s+', '', text.replace('\u00ad', ''))


def paper():
    import pypdf
    for show in DEMOS:
        for service in services(show):
            plan = sorted(lines('schedule', show, '--service', service, '--json'), key=lambda l: (l['land_us'], ('RO LM'.replace(' ', '')).index(l['label'][0]), int(l['label'][1:])))
            with open(show, encoding='utf-8') as f:
                data = next(s for s in json.load(f)['show']['services'] if s['name'] == service)
            for size, box in (('a4', (595.28, 841.89)), ('letter', (612, 792))):
                out = os.path.join(WORK, 'order.pdf')
                letfall('paper', show, '--service', service, '--sheet', 'order', '--size', size, '-o', out)
                pdf = pypdf.PdfReader(out, strict=True)
                root = pdf.trailer['/Root']
                need(root.get('/MarkInfo', {}).get('/Marked') is True or root['/MarkInfo']['/Marked'], 'not tagged')
                need('/StructTreeRoot' in root and str(root['/Lang']).startswith('en'), 'no structure tree or language')
                need(b'pdfuaid' in root['/Metadata'].get_object().get_data(), 'does not say that it is PDF/UA')
                n = len(pdf.pages)
                pages = []
                for i, page in enumerate(pdf.pages):
                    got = page.mediabox
                    need(abs(float(got.width) - box[0]) < 0.1 and abs(float(got.height) - box[1]) < 0.1, f'{size}: {got}')
                    text = subprocess.run(['pdftotext', '-f', str(i + 1), '-l', str(i + 1), '-raw', out, '-'], stdout=subprocess.PIPE, check=True).stdout.decode()
                    pages.append(squeeze(text))
                    need(squeeze(f'page {i + 1} of {n}') in pages[-1], f'page {i + 1} of {n} is not on its page')
                    need(squeeze('What happens') in pages[-1], f'page {i + 1} has no table head')
                    need(squeeze(service) in pages[-1], f'page {i + 1} does not name its service')
                    for font in (page['/Resources']['/Font'] or {}).values():
                        desc = font['/DescendantFonts'][0]['/FontDescriptor']
                        need('/FontFile2' in desc or '/FontFile3' in desc, 'a font is not embedded')
                at = [0] * n
                for l in plan:
                    # Tenths of a second, rounded down: a clock shows no time before it is there.
                    tenths = l['land_us'] // 100000
                    time = ('-' if tenths < 0 else '') + f'{abs(tenths) // 600}:{abs(tenths) // 10 % 60:02}.{abs(tenths) % 10}'
                    place = f"bar {l['bar']}"
                    row = squeeze(l['label'] + (f"desk {l['desk']}" if l['desk'] else '') + place)
                    spot = None
                    for i in range(n):
                        found = pages[i].find(row, at[i])
                        if found >= 0:
                            spot = (i, found)
                            break
                    need(spot, f"{show} {service} {size}: {l['label']} at {place} is not there, or out of order")
                    i, found = spot
                    head = pages[i][found:found + 400]
                    need(squeeze(time) in head and squeeze(l['what']) in head, f"{l['label']}: {time} or \"{l['what']}\" is not in its row, or the row is split: {head[:150]}")
                    beat = f"beat {l['beat']}"
                    need(l['beat'] == 1 or l['ticks'] or squeeze(beat) in head[:60], f"{l['label']}: {beat} is not beside {place}: {head[:80]}")
                    at[i] = found + len(row)
                    for k in range(i):
                        at[k] = len(pages[k])
                both = ''.join(squeeze(p.extract_text()) for p in pdf.pages)
                need(all(squeeze(l['what']) in both for l in plan), 'pypdf does not find every description')
        print(f'{os.path.basename(show)}: {len(services(show))} services, both sizes, every cue found in order')


# ---- all sheets: two readers, bookmarks, the order of calls, golden texts ---------------------------------------------

SHEETS = ['order', 'calls', 'release', 'lighting', 'media', 'outputs', 'wall', 'checklist', 'kit', 'crew', 'stand-in', 'patch', 'between', 'papers', 'facts', 'show-stop', 'report', 'strike', 'room', 'known', 'survey', 'request', 'offers', 'week', 'all']
GOLDEN = os.path.join(os.path.dirname(os.path.abspath(__file__)), 'golden')


def raw(path):
    return subprocess.run(['pdftotext', '-raw', path, '-'], stdout=subprocess.PIPE, check=True).stdout.decode()


def sheets():
    import pypdf
    show, service = DEMOS[0], 'Late'
    need(show.endswith('lantern-night.letfall'), f'{show} is not the demo show')
    for sheet in SHEETS:
        out = os.path.join(WORK, f'{sheet}.pdf')
        letfall('paper', show, '--service', service, '--sheet', sheet, '-o', out)
        # Two independent readers: qpdf says nothing of errors or warnings, pypdf reads in its strict mode.
        seen = subprocess.run(['qpdf', '--check', out], stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
        need(seen.returncode == 0, f'{sheet}: qpdf: {seen.stdout.decode()}')
        pdf = pypdf.PdfReader(out, strict=True)
        root = pdf.trailer['/Root']
        need('/StructTreeRoot' in root and root.get('/Lang'), f'{sheet}: no structure tree or language')
        need(b'pdfuaid' in root['/Metadata'].get_object().get_data(), f'{sheet}: does not say that it is PDF/UA')
        need('Lantern Night' in (pdf.metadata.title or ''), f'{sheet}: title {pdf.metadata.title!r}')
        for page in pdf.pages:
            for font in (page['/Resources']['/Font'] or {}).values():
                desc = font['/DescendantFonts'][0]['/FontDescriptor']
                need('/FontFile2' in desc or '/FontFile3' in desc, f'{sheet}: a font is not embedded')
        text = raw(out)
        # No page ever says that a thing is safe.
        need(not re.search(r'\b(safe|unsafe|safely)\b', text, re.I), f'{sheet}: a page speaks of "safe"')
        for i in range(len(pdf.pages)):
            need(squeeze(f'page {i + 1} of {len(pdf.pages)}') in squeeze(text), f'{sheet}: page {i + 1} is not numbered')
        # Golden: the text and the number of pages, not the pixels. Spaces differ between versions of the reader.
        golden = os.path.join(GOLDEN, f'{sheet}.txt')
        now = f'{len(pdf.pages)} pages\n{text}'
        if os.environ.get('LETFALL_GOLDEN') == 'write':
            os.makedirs(GOLDEN, exist_ok=True)
            with open(golden, 'w', encoding='utf-8') as f:
                f.write(now)
        with open(golden, encoding='utf-8') as f:
            then = f.read()
        if squeeze(now) != squeeze(then):
            at = next((i for i, (a, b) in enumerate(zip(squeeze(now), squeeze(then))) if a != b), min(len(squeeze(now)), len(squeeze(then))))
            sys.exit(f'{sheet}: the text is another one: {squeeze(now)[max(0, at - 60):at + 60]!r} where {squeeze(then)[max(0, at - 60):at + 60]!r} was; look at the page, then LETFALL_GOLDEN=write cargo xtask test')
    # Bookmarks lead to every sheet.
    names = [str(o.title) for o in pypdf.PdfReader(os.path.join(WORK, 'all.pdf')).outline if not isinstance(o, list)]
    for name in ('Running order', 'Call sheet', 'Release sheet', 'Lighting sheet', 'Media sheet', 'Outputs sheet', 'Wall sheet', 'Pre-show checklist', 'Between services', 'Crew', 'Stand-in pages', 'Patch', 'Show-stop card', 'Report of the performance', 'Strike', 'Papers of the day', 'Facts for a risk assessment', 'Kit and cost', 'Room', 'What we know, what we must ask', 'Survey', 'Request to a hire company', 'Offers', 'Week'):
        need(name in names, f'no bookmark for {name}: {names}')
    # Every call is on the call sheet once, in the order of the schedule's sends.
    out = os.path.join(WORK, 'calls.csv')
    letfall('table', show, '--service', service, '-o', out)
    with open(out, encoding='utf-8', newline='') as f:
        called = sorted((r for r in csv.DictReader(f) if r['go_words']), key=lambda r: int(r['send_us']))
    text, at = squeeze(raw(os.path.join(WORK, 'calls.pdf'))), 0
    need(len(called) >= 3, 'the demo show has calls')
    need(all(r['goes'] == 'operator' and not r['bytes'] and int(r['person_us']) == 400000 for r in called), 'a go is for a hand')
    for r in called:
        secs = int(r['send_us']) // 1000000
        time = ('−' if secs < 0 else '') + f'{abs(secs) // 60}:{abs(secs) % 60:02}'
        found = text.find(squeeze(f'“{r["go_words"]}”'), at)
        need(found >= 0, f'{r["label"]}: “{r["go_words"]}” is not there, or out of order')
        need(squeeze(time) in text[max(0, found - 60):found], f'{r["label"]}: {time} does not stand before its words: {text[max(0, found - 60):found]}')
        at = found + 1
    # What goes by machine stands between, in the order in which it lands.
    with open(out, encoding='utf-8', newline='') as f:
        alone = sorted((r for r in csv.DictReader(f) if r['goes'] == 'machine'), key=lambda r: (int(r['land_us']), r['label']))
    need(len(alone) >= 15, 'cues that go by machine')
    for r in alone:
        need(r['label'] in text, f'{r["label"]} goes by machine and is not on the call sheet')
    print(f'{len(SHEETS)} sheets: qpdf and pypdf read them, bookmarks and calls in order, texts as kept')


# ---- fall: quadratic drag against scipy's integrator -------------------------------------------------------------------

def fall():
    from scipy.integrate import solve_ivp
    from scipy.stats import t
    import numpy as np

    def spread_of(spread, times):
        """Standard uncertainty and degrees of freedom of the next reading; a spread that was only stated has 8 (JCGM 100 G.4.2)."""
        return (spread * (1 + 1 / times) ** 0.5, times - 1) if times > 1 else (spread, 8)

    def welch(parts):
        """Welch and Satterthwaite (JCGM 100 G.4.1)."""
        squares = sum(u * u for u, _ in parts)
        fourths = sum(u ** 4 / v for u, v in parts)
        return squares ** 0.5, squares ** 2 / fourths

    def same_chance(row, chance, what):
        """Programs are told hundredths, rounded down, and never more than 0.99."""
        close = {min(int((chance + off) * 100) / 100, 0.99) for off in (-1e-4, 1e-4)}
        need(row['in_time'] in close, f"{what}: chance {row['in_time']} where {chance:.4f} is worked out")

    g, air, expected, broadside = 9.80665, 1.204, 0.12, 1.28

    def integrated(height, mass, drag):
        """Seconds until a sheet of `mass` kg/m2 has come down `height` m, by integrating m v' = m g - rho C v^2 / 2."""
        def motion(_, y):
            return [y[1], g - air * drag * y[1] * y[1] / (2 * mass)]
        def down(_, y):
            return y[0] - height
        down.terminal = True
        done = solve_ivp(motion, (0, 120), [0, 0], events=down, rtol=1e-11, atol=1e-13)
        return float(done.t_events[0][0])

    with open(DEMOS[1], encoding='utf-8') as f:
        base = json.load(f)
    service = base['show']['services'][0]['name']
    path, worst, seen = os.path.join(WORK, 'fall.letfall'), 0.0, 0
    for mass in (0.03, 0.1, 0.15, 0.3, 0.5):
        for top, sight in ((3.048, 1.0), (4.0, 1.8), (6.096, 1.8), (9.0, 2.2)):
            for lands, height in (('sightline', top - sight), ('floor', top)):
                show = json.loads(json.dumps(base))
                hang = show['show']['hangs'][0]
                hang.update({'top_m': top, 'sightline_m': sight, 'drop_m': min(hang['drop_m'], top), 'areal_mass_kg_m2': mass, 'measured': []})
                show['show']['settings'] = {**show['show'].get('settings', {}), 'early_us': 200000, 'late_us': 300000}
                for cue in show['show']['services'][0]['cues']:
                    if cue['label'].startswith('R'):
                        cue['does']['release']['lands'] = lands
                with open(path, 'w', encoding='utf-8') as f:
                    json.dump(show, f)
                row = next(l for l in lines('schedule', path, '--service', service, '--json') if l['kind'] == 'release')
                want = integrated(height, mass, expected)
                worst = max(worst, abs(row['action_us'] / 1e6 - want))
                need(abs(row['action_us'] / 1e6 - want) < 2e-6, f"{mass} kg/m2, {height} m: {row['action_us']} us where {want:.7f} s is integrated")
                # The chance: what the model leaves open is uniform, latencies have a t distribution; by quadrature of scipy's own.
                receiver = next(r for r in show['show']['receivers'] if r['key'] == row['receiver'])
                parts = [l for l in (receiver['latency'], show['show']['releases'][0]['contact']) if l.get('spread_us')]
                sigma, freedom = welch([spread_of(l['spread_us'] / 1e6, l.get('measured', 0)) for l in parts])
                late, early = integrated(height, mass, broadside) - want, (2 * height / g) ** 0.5 - want
                edges = np.linspace(early, late, 200001)
                mids = (edges[:-1] + edges[1:]) / 2
                chance = float(np.mean(t.cdf((0.3 - mids) / sigma, freedom) - t.cdf((-0.2 - mids) / sigma, freedom)))
                same_chance(row, chance, f'{mass} kg/m2, {height} m')
                half = t.ppf(0.975, freedom) * sigma
                need(abs(row['late_us'] / 1e6 - half - late) < 5e-6, f"{mass} kg/m2, {height} m: late {row['late_us']} us")
                need(abs(row['early_us'] / 1e6 - half + early) < 5e-6, f"{mass} kg/m2, {height} m: early {row['early_us']} us")
                seen += 1
    # Measured drops: what scipy says of the next one after n, for n from 1 to 10 and several spreads.
    rng, drops = np.random.default_rng(7), 0
    for count in range(1, 11):
        for spread in (0.0, 0.01, 0.02, 0.05):
            show = json.loads(json.dumps(base))
            hang = show['show']['hangs'][0]
            # Not faster than free fall, which would cut the range.
            times = [round(float(x), 3) for x in 1.3 * (2 * hang['top_m'] / g) ** 0.5 + spread * rng.standard_normal(count)]
            hang['measured'] = [{'to': 'floor', 'seconds': x, 'by': 'sensor'} for x in times]
            show['show']['settings'] = {**show['show'].get('settings', {}), 'early_us': 60000, 'late_us': 45000}
            for cue in show['show']['services'][0]['cues']:
                if cue['label'].startswith('R'):
                    cue['does']['release']['lands'] = 'floor'
            with open(path, 'w', encoding='utf-8') as f:
                json.dump(show, f)
            row = next(l for l in lines('schedule', path, '--service', service, '--json') if l['kind'] == 'release')
            receiver = next(r for r in show['show']['receivers'] if r['key'] == row['receiver'])
            parts = [l for l in (receiver['latency'], show['show']['releases'][0]['contact']) if l.get('spread_us')]
            mean = float(np.mean(times))
            fall = spread_of(float(np.std(times, ddof=1)), count) if count > 1 else (0.05 * mean, 2)
            read = (0.001 / 12 ** 0.5, float('inf'))
            sigma, freedom = welch([spread_of(l['spread_us'] / 1e6, l.get('measured', 0)) for l in parts] + [fall, read])
            half = t.ppf(0.975, freedom) * sigma
            what = f'{count} drops with a spread of {spread} s'
            need(abs(row['action_us'] / 1e6 - mean) < 2e-6, f"{what}: {row['action_us']} us where the mean is {mean:.6f} s")
            for side in ('early_us', 'late_us'):
                need(abs(row[side] / 1e6 - half) < 5e-6, f'{what}: {side} {row[side]} where {half:.6f} s is worked out')
            same_chance(row, float(t.cdf(0.045 / sigma, freedom) - t.cdf(-0.06 / sigma, freedom)), what)
            drops += 1
    print(f'{seen} falls: worst {worst * 1e6:.2f} us off the integrator; {drops} sets of drops; chances and ranges as by scipy')


# ---- sound: timecode decoded by libltc, clicks against the grid of the MIDI file ----------------------------------------

def sound():
    import wave
    import numpy as np
    reader = os.path.join(os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(sys.executable)))), 'ltcread')
    reader = os.environ.get('LETFALL_LTCREAD', reader)
    need(os.path.exists(reader), f'{reader} is not there; cargo xtask test builds it')
    with open(DEMOS[1], encoding='utf-8') as f:
        show = json.load(f)
    service = show['show']['services'][0]
    # Ten minutes and a bit, whatever the song's tempo is.
    service['song']['bars'] = 330
    service['song'].pop('sections', None)
    path = os.path.join(WORK, 'ten.letfall')
    for rate, fps, exact in (('24', '24', 1 / 24), ('25', '25', 1 / 25), ('29.97df', '29.97', 1001 / 30000), ('30', '30', 1 / 30)):
        service['timecode'] = {'at': '10:00:00:00', 'rate': rate}
        with open(path, 'w', encoding='utf-8') as f:
            json.dump(show, f)
        out = os.path.join(WORK, 'tc.wav')
        letfall('timecode', path, '--service', service['name'], '-o', out)
        got = subprocess.run([reader, out, fps], stdout=subprocess.PIPE, stderr=subprocess.PIPE, check=True).stdout.decode().split('\n')
        rows = [l.split() for l in got if l]
        with wave.open(out) as w:
            n, sr = w.getnframes(), w.getframerate()
        need(n / sr > 600, f'{rate}: only {n / sr:.1f} s')
        need(len(rows) >= int(n / sr / exact) - 2, f'{rate}: {len(rows)} frames decoded of {n / sr / exact:.1f}')
        count = {'24': 24, '25': 25, '29.97df': 30, '30': 30}[rate]

        def number(text):
            h, m, s, f = (int(x) for x in re.split('[:;.]', text))
            total = ((h * 60 + m) * 60 + s) * count + f
            return total - 2 * ((h * 60 + m) - (h * 60 + m) // 10) if rate == '29.97df' else total

        first = number(rows[0][2])
        # The file begins on a bar line and is silent until its first frame line, for less than a frame.
        base = sorted(int(row[0]) - k * exact * sr for k, row in enumerate(rows))[len(rows) // 2]
        for k, row in enumerate(rows):
            need(number(row[2]) == first + k, f'{rate}: frame {k} reads {row[2]}, after {rows[k - 1][2]}')
            need(row[4] == 'rev=0' and (row[3] == 'df=1') == (rate == '29.97df'), f'{rate}: {row}')
            # The reader reports whole samples, the first frame a few late.
            need(k < 2 or abs(int(row[0]) - base - k * exact * sr) <= 3.0, f'{rate}: frame {k} begins at sample {row[0]} where {base + k * exact * sr:.2f} is due')
        need(-4 <= base < exact * sr + 4, f'{rate}: the first frame begins at sample {base}')
        # Song time 0 carries the service's own address: so many frames before it as the count-in has.
        zero = number('10:00:00:00')
        need(first < zero < first + len(rows), f'{rate}: {rows[0][2]} to {rows[-1][2]} do not hold the start')
        # And it falls where the file itself says, to its milliseconds.
        with open(out, 'rb') as f:
            said = re.search(rb'song time 0 is at ([0-9.]+) s', f.read())
        at = (zero - first) * exact + base / sr
        need(said and abs(float(said[1]) - at) < 0.0008, f'{rate}: song time 0 is at {at:.4f} s, and the file says {said and said[1]}')
        print(f'{rate}: {len(rows)} frames over {n / sr:.0f} s, all decoded in order')

    # Clicks: the first sample of each against the bar lines of the exported MIDI file.
    for show, service in [(s, v) for s in DEMOS for v in services(s)][:4]:
        mid, wav = os.path.join(WORK, 'c.mid'), os.path.join(WORK, 'c.wav')
        letfall('midi', show, '--service', service, '--resolution', '4800', '-o', mid)
        letfall('click', show, '--service', service, '-o', wav)
        with wave.open(wav) as w:
            x, sr = np.frombuffer(w.readframes(w.getnframes()), dtype='<i2').astype(float), w.getframerate()
        loud = np.flatnonzero(np.abs(x) > 6000)
        onsets = loud[np.concatenate([[True], np.diff(loud) > sr * 0.05])]
        downs = [i for i in onsets if abs(x[i]) > 24000]
        with open(show, encoding='utf-8') as f:
            plan = json.load(f)['show']
        bars = next(s for s in plan['services'] if s['name'] == service)['song']['bars']
        count_in = plan.get('settings', {}).get('count_in_bars', 2)
        need(len(downs) == bars + count_in, f'{service}: {len(downs)} bar lines for {bars} bars and {count_in} of count-in')
        # The file's last bar line is the song's end; what stands before the clicks' first bar is room for early messages.
        bar_lines = [l['at_us'] / 1e6 for l in lines('grid', mid, '--json') if l['type'] == 'bar']
        want = np.array(bar_lines[-bars - 1:-1])
        need(len(want) == bars, f'{service}: {len(bar_lines)} bar lines in the MIDI file for {bars} bars')
        got = np.array(downs[-bars:]) / sr
        want, got = want - want[0], got - got[0]
        # Half a sample, and what the MIDI file's own microseconds and tempo steps come to.
        off = np.max(np.abs(got - want)) * sr
        need(off < 1.0 + 0.0002 * sr, f'{service}: a click is {off:.1f} samples off its bar line')
        print(f'{os.path.basename(show)} {service}: {len(onsets)} clicks, bar lines within {off:.1f} samples of the MIDI file')


# ---- table: CSV read by Python ----------------------------------------------------------------------------------------

def table():
    hostile = os.path.join(WORK, 'hostile.letfall')
    with open(DEMOS[1], encoding='utf-8') as f:
        show = json.load(f)
    texts = ['=HYPERLINK("x")', '+1', '-1+cmd', '@SUM(A1)', '\t=1', 'say "go", now', 'two\nlines', 'é 夜, ✓']
    cues = show['show']['services'][0]['cues']
    base = next(c for c in cues if c['label'] == 'L1')
    for i, t in enumerate(texts):
        cues.append({**base, 'label': f'L{100 + i}', 'text': t, 'note': t})
    with open(hostile, 'w', encoding='utf-8') as f:
        json.dump(show, f)
    for show in DEMOS + [hostile]:
        for service in services(show):
            out = os.path.join(WORK, 'table.csv')
            letfall('table', show, '--service', service, '-o', out)
            with open(out, 'rb') as f:
                raw = f.read()
            need(raw.endswith(b'\r\n') and raw.decode('utf-8'), 'records do not end in CRLF')
            with open(out, encoding='utf-8', newline='') as f:
                rows = list(csv.DictReader(f, strict=True))
            plan = {l['label']: l for l in lines('schedule', show, '--service', service, '--json')}
            need([int(r['land_us']) for r in rows] == sorted(l['land_us'] for l in plan.values()), 'not in order of landing')
            for r in rows:
                l = plan[r['label']]
                for name in ('what', 'note', 'receiver', 'track', 'go_words', 'standby_words', 'section', 'answers', 'port'):
                    need(r[name][:1] not in tuple('=+-@\t\r'), f'{r["label"]}: {name} would run as a formula')
                plain = r['what'][1:] if r['what'].startswith("'") else r['what']
                need(plain.strip() == l['what'].strip(), f'{r["label"]}: {r["what"]!r} is not {l["what"]!r}')
                need(int(r['send_us']) == l['send_us'] and r['bytes'] == (l['bytes'] or ''), 'another send or message')
        print(f'{os.path.basename(show)}: read back by csv')


# ---- room: eyes, beams and shadows by vectors, with numpy; the drawing as XML ------------------------------------------

def room():
    import numpy as np
    import xml.etree.ElementTree as ET
    show = DEMOS[0]
    with open(show, encoding='utf-8') as f:
        d = json.load(f)['show']
    r, hang = d['room'], d['hangs'][0]
    at = lambda s: np.array([s['across_m'], s['deep_m'], s.get('high_m', 0.0)])
    stage = r['stage']
    on_stage = lambda x, y: abs(x) <= stage['width_m'] / 2 and 0 <= y <= stage['depth_m']
    floor = lambda x, y: stage['height_m'] if on_stage(x, y) else 0.0
    fabric = r['fabrics'][0]
    plane = fabric['deep_m']
    said = lines('room', show, '--json')
    # Where the line from each eye to each head meets the fabric's plane: e + (h - e) t, and the lowest of them.
    heads = [np.array([p['across_m'], p['deep_m'], floor(p['across_m'], p['deep_m']) + p.get('raised_m', 0.0) + p.get('head_m', 1.7)]) for p in r['performers']]
    for seat in r['seats']:
        e = at(seat['eye'])
        mine = [l for l in said if l['is'] == 'reveal' and l['seat'] == seat['name']]
        need(len(mine) == 1, f'{seat["name"]}: {mine}')
        # Whom something hides for good does not come into view.
        seen = [h for p, h in zip(r['performers'], heads) if p['name'] not in mine[0]['never']]
        low = min((e + (h - e) * (plane - e[1]) / (h[1] - e[1]))[2] for h in seen) - floor(fabric.get('across_m', 0.0), plane)
        need(abs(mine[0]['sightline_m'] - low) < 1e-9, f'{seat["name"]}: {mine} is not {low}')
        # Nobody is hidden but by the head of somebody right in front: the line to the head goes through it.
        for p, h in zip(r['performers'], heads):
            way = [e + (h - e) * t for t in np.linspace(0, 1, 20001)]
            sitting = [np.array([b.get('across_m', 0) + (b['seat_m'] / 2 if b.get('staggered') and n % 2 else 0) + b['seat_m'] * (k - (b['seats'] - 1) / 2), -(b['first_m'] + b['row_m'] * n), b.get('floor_m', 0) + b.get('rise_m', 0) * n + b.get('eye_m', 1.2)]) for b in r['blocks'] for n in range(b['rows']) for k in range(b['seats'])]
            before = [s for s in sitting if 0.2 < s[1] - e[1] <= 1.3]
            hit = any(abs(w[0] - s[0]) < 0.1 and abs(w[1] - s[1]) < 0.1 and -0.1 < w[2] - s[2] < 0.12 for w in way[:4000] for s in before if abs(w[1] - s[1]) < 0.1)
            need(hit == (p['name'] in mine[0]['never']), f'{seat["name"]}, {p["name"]}: hidden {hit}')
    # Shadows: the plane met by the line from the lamp through head and feet.
    for lamp in r['lamps']:
        l = at(lamp['at'])
        for p, h in zip(r['performers'], heads):
            top = l + (h - l) * (plane - l[1]) / (h[1] - l[1])
            mine = [s for s in said if s['is'] == 'silhouette' and s['lamp'] == lamp['name'] and s['performer'] == p['name']]
            need(len(mine) == 1 and abs(mine[0]['top_m'] - top[2]) < 1e-9 and abs(mine[0]['across_m'] - top[0]) < 1e-9, f'{lamp["name"]}, {p["name"]}')
            edge = lamp['source_m'] * (h[1] - plane) / (l[1] - h[1])
            need(abs(mine[0]['edge_m'] - edge) < 1e-9, f'{lamp["name"]}, {p["name"]}: edge')
    # Projectors: the angle between the normal and the line to the picture's middle, by the dot product.
    for p in r['projectors']:
        mine = next(l for l in said if l['is'] == 'projector' and l['projector'] == p['name'])
        screen = next((s for s in r['screens'] if s['output'] == p['output']), None)
        if screen:
            middle, width = at(screen['at']) + [0, 0, screen['height_m'] / 2], screen['width_m']
        else:
            top = floor(fabric.get('across_m', 0.0), plane) + hang['top_m']
            middle = np.array([fabric.get('across_m', 0.0), plane, top - hang['drop_m'] / 2])
            width = next(o for o in d['outputs'] if o['key'] == p['output'])['projection']['width_m']
        way = middle - at(p['at'])
        oblique = np.degrees(np.arccos(min(1.0, abs(way[1]) / np.linalg.norm(way))))
        need(abs(mine['oblique_deg'] - oblique) < 1e-5, f'{p["name"]}: {mine["oblique_deg"]} is not {oblique}')
        need(abs(mine['throw_ratio'] - abs(way[1]) / width) < 1e-9, f'{p["name"]}: throw ratio')
    # What hangs.
    bar = next(l for l in said if l['is'] == 'bar')
    need(abs(bar['hung_kg'] - (hang['width_m'] * hang['drop_m'] * hang['areal_mass_kg_m2'] + hang['hardware_kg'])) < 1e-9, 'what hangs')
    # The drawing is XML, and one metre of the room is 10 mm: the room's width and depth are there as large as they are.
    out = os.path.join(WORK, 'plan.svg')
    for view in ('plan', 'section'):
        letfall('drawing', show, '--view', view, '-o', out)
        svg = ET.parse(out).getroot()
        ns = '{http://www.w3.org/2000/svg}'
        sizes = []
        for polygon in svg.iter(ns + 'polygon'):
            points = np.array([[float(v) for v in p.split(',')] for p in polygon.get('points').split()])
            sizes.append(tuple(np.round(points.max(axis=0) - points.min(axis=0), 2)))
        deep = (r['house_m'] + stage['depth_m']) * 10
        wanted = (r['width_m'] * 10, deep) if view == 'plan' else (deep, r['ceiling_m'] * 10)
        need(any(abs(a - wanted[0]) < 0.02 and abs(b - wanted[1]) < 0.02 for a, b in sizes), f'{view}: no {wanted} among {sizes[:5]}')
        need(svg.get('width').endswith('mm') and svg.find(ns + 'title') is not None, f'{view}: no size or title')
    print(f'{len(r["seats"])} seats, {len(heads)} heads, {len(r["lamps"])} lamps, {len(r["projectors"])} projectors as by vectors; drawings to scale')


# ---- calendar: read back by the icalendar library ----------------------------------------------------------------------

def calendar():
    import icalendar, datetime
    show = DEMOS[0]
    with open(show, encoding='utf-8') as f:
        d = json.load(f)['show']
    clock = lambda day, hour: datetime.datetime.fromisoformat(f'{day}T{hour}')
    for role in [None] + sorted({w for c in d['week']['calls'] for w in c['who']}):
        out = os.path.join(WORK, 'week.ics')
        letfall('calendar', show, *(['--role', role] if role else []), '-o', out)
        with open(out, 'rb') as f:
            raw = f.read()
        need(raw.endswith(b'END:VCALENDAR\r\n') and all(len(l) <= 75 for l in raw.split(b'\r\n')), f'{role}: lines longer than 75 octets, or not ended by CRLF (RFC 5545, 3.1)')
        read = icalendar.Calendar.from_ical(raw)
        events = list(read.walk('VEVENT'))
        calls = [c for c in d['week']['calls'] if role is None or role in c['who']]
        found = {(str(e['SUMMARY']), e['DTSTART'].dt): e for e in events}
        need(len(found) == len(events) == len(calls) + len(d['services']), f'{role}: {len(events)} entries')
        need(len({str(e['UID']) for e in events}) == len(events), f'{role}: one name twice')
        for c in calls:
            e = found[(f'{d["title"]}: {c["what"]}', clock(c['date'], c['from']))]
            need(e['DTEND'].dt == clock(c['date'], c['until']) and e['DTSTAMP'].dt.tzinfo is not None, f'{c["what"]}: end or stamp')
            about = str(e['DESCRIPTION'])
            need(all(w in about for w in c['who']) and c.get('note', '') in about and ('Overhead' in about) == c.get('overhead', False), f'{c["what"]}: {about}')
        for s in d['services']:
            need((f'{d["title"]}: Service “{s["name"]}”', clock(s['date'], s['starts'])) in found, f'{s["name"]} is not there')
        print(f'{role or "everybody"}: {len(events)} entries read back by icalendar')


{'grid': grid, 'midi': midi, 'paper': paper, 'sheets': sheets, 'fall': fall, 'sound': sound, 'table': table, 'room': room, 'calendar': calendar}[sys.argv[1]]()
