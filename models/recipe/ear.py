"""The wide ear: writes its trained weights as an ONNX graph, and computes the same in numpy, which the tests hold the program against.

    ear.py write STATE.pt SHARES.npy OUT.onnx     (needs the package onnx)

STATE.pt is a float16 state of `ear_train.py`, read without torch. The graph takes `sound` (1, 1, samples), 16 kHz in -1 to 1, and gives `scores`
(frames, 82): for each phone "enter" and "stay", scaled log likelihoods, a frame each 384 samples, of which each sees 895 and the rest through attention.
Weights are kept in float16 and computed with in float32.
"""
import collections
import pickle
import sys
import zipfile

import numpy as np

WIDTH, HEADS, LAYERS, TURNED = 288, 8, 6, 32
# Half of the outputs' shares in training is taken off; so much of the rest fits best beside a bigram of phones (measured on the development set).
PRIOR, SCALE = 0.5, 0.7


def state(path):
    """A torch state dict of half or float tensors, as float32 arrays by name."""
    z = zipfile.ZipFile(path)
    root = next(n for n in z.namelist() if n.endswith("data.pkl"))[:-8]
    kinds = {"HalfStorage": np.float16, "FloatStorage": np.float32, "LongStorage": np.int64}

    def tensor(storage, at, size, stride, *_):
        view = np.lib.stride_tricks.as_strided(storage[at:], size, [k * storage.itemsize for k in stride])
        return view.astype(np.float32)

    class Reader(pickle.Unpickler):
        def find_class(self, module, name):
            return {"_rebuild_tensor_v2": tensor, "OrderedDict": collections.OrderedDict}.get(name) or kinds[name]

        def persistent_load(self, pid):
            return np.frombuffer(z.read(root + "data/" + pid[2]), pid[1])
    return dict(Reader(z.open(root + "data.pkl")).load())


def halves(weight):
    """Rows of queries or keys in an order in which the numbers that turn together lie half a head apart, not side by side: products of both stay."""
    each = WIDTH // HEADS
    order = [*range(0, TURNED, 2), *range(1, TURNED, 2), *range(TURNED, each)]
    return weight.reshape(HEADS, each, WIDTH)[:, order].reshape(WIDTH, WIDTH)


def parts(state, shares):
    """What both the graph and numpy compute with: matrices from the left, queries scaled, what is taken off the scores."""
    p = {k: state[k] for k in ("conv1.weight", "conv2.weight", "conv2.bias", "conv3.weight", "conv3.bias", "head.bias", "ln.weight")}
    p["gain"], p["shift"], p["head"] = state["gn_weight"][None, :, None], state["gn_bias"][None, :, None], state["head.weight"].T
    for n in range(LAYERS):
        s = lambda k: state[f"layers.{n}.{k}.weight"]
        p[f"{n}.ln1"], p[f"{n}.ln2"] = s("ln1"), s("ln2")
        p[f"{n}.q"] = halves(s("q")).T / np.sqrt(WIDTH / HEADS).astype("f4")
        p[f"{n}.k"] = halves(s("k")).T
        for k in ("v", "o", "fc1", "fc2"):
            p[f"{n}.{k}"] = s(k).T
        p[f"{n}.b1"], p[f"{n}.b2"] = state[f"layers.{n}.fc1.bias"], state[f"layers.{n}.fc2.bias"]
    return {k: np.ascontiguousarray(v, "f4") for k, v in p.items()} | {"prior": (PRIOR * shares).astype("f4")}


def forward(p, sound):
    """The scores of a stretch of sound, in double precision."""
    from math import erf
    gelu = lambda x: x * 0.5 * (1 + np.vectorize(erf)(x / np.sqrt(2)))
    norm = lambda x, g: (x - x.mean(1, keepdims=True)) / np.sqrt(x.var(1, keepdims=True) + 1e-5) * g

    def conv(x, w, step):
        at = step * np.arange((x.shape[1] - w.shape[2]) // step + 1)[:, None] + np.arange(w.shape[2])
        return np.einsum("ctk,ock->ot", x[:, at], w, optimize=True)
    p = {k: v.astype(float) for k, v in p.items()}
    h = np.tanh(conv(np.asarray(sound, float)[None], p["conv1.weight"], 64))
    h = (h - h.mean()) / np.sqrt(h.var() + 1e-5) * p["gain"][0] + p["shift"][0]
    h = gelu(conv(h, p["conv2.weight"], 3) + p["conv2.bias"][:, None])
    x = gelu(conv(h, p["conv3.weight"], 2) + p["conv3.bias"][:, None]).T
    angle = np.arange(len(x))[:, None] * 10_000.0 ** (-np.arange(TURNED // 2) / (TURNED // 2))
    cos, sin = np.cos(angle), np.sin(angle)

    def turned(y):
        a, b, rest = np.split(y.reshape(len(y), HEADS, -1).transpose(1, 0, 2), [TURNED // 2, TURNED], 2)
        return np.concatenate([a * cos - b * sin, b * cos + a * sin, rest], 2)
    for n in range(LAYERS):
        h = norm(x, p[f"{n}.ln1"])
        w = turned(h @ p[f"{n}.q"]) @ turned(h @ p[f"{n}.k"]).transpose(0, 2, 1)
        w = np.exp(w - w.max(2, keepdims=True))
        v = (h @ p[f"{n}.v"]).reshape(len(x), HEADS, -1).transpose(1, 0, 2)
        x = x + (w / w.sum(2, keepdims=True) @ v).transpose(1, 0, 2).reshape(len(x), WIDTH) @ p[f"{n}.o"]
        x = x + gelu(norm(x, p[f"{n}.ln2"]) @ p[f"{n}.fc1"] + p[f"{n}.b1"]) @ p[f"{n}.fc2"] + p[f"{n}.b2"]
    y = norm(x, p["ln.weight"]) @ p["head"] + p["head.bias"]
    return SCALE * (y - np.logaddexp.reduce(y, 1, keepdims=True) - p["prior"])


class Graph:
    """An ONNX graph under way: nodes named after their output, constants after what they hold."""

    def __init__(self):
        self.nodes, self.constants = [], {}

    def constant(self, name, value):
        self.constants[name] = np.asarray(value)
        return name

    def weight(self, name, value):
        """Kept in float16."""
        return self.op("Cast", self.constant(name + "_f16", value.astype(np.float16)), to=1, name=name)

    def op(self, kind, *inputs, outputs=1, name=None, **attributes):
        from onnx import helper
        names = [f"{name or kind.lower() + str(len(self.nodes))}{k or ''}" for k in range(outputs)]
        self.nodes.append(helper.make_node(kind, list(inputs), names, **attributes))
        return names[0] if outputs == 1 else names


def graph(p):
    """The network as an ONNX model."""
    import onnx
    from onnx import helper
    g = Graph()
    w = {k: g.weight(k, v) for k, v in p.items() if v.ndim > 1 or k.endswith("bias")} | {
        k: g.constant(k, v) for k, v in p.items() if v.ndim == 1 and not k.endswith("bias")}
    ints = lambda name, *v: g.constant(name, np.array(v, np.int64))
    half, flat, heads, whole = g.constant("half", np.float32(0.5)), ints("flat", 1, 1, -1), ints("heads", 0, HEADS, WIDTH // HEADS), ints("whole", 0, WIDTH)
    root = g.constant("root", np.float32(2 ** -0.5))
    one = g.constant("one", np.float32(1))

    def gelu(x):
        return g.op("Mul", g.op("Mul", x, half), g.op("Add", g.op("Erf", g.op("Mul", x, root)), one))

    def turned(x):
        a, b, rest = g.op("Split", g.op("Transpose", g.op("Reshape", x, heads), perm=[1, 0, 2]), ints("turned", TURNED // 2, TURNED // 2, WIDTH // HEADS - TURNED), outputs=3, axis=2)
        mix = lambda op, u, v: g.op(op, g.op("Mul", u, cos), g.op("Mul", v, sin))
        return g.op("Concat", mix("Sub", a, b), mix("Add", b, a), rest, axis=2)
    h = g.op("Tanh", g.op("Conv", "sound", w["conv1.weight"], strides=[64], pads=[0, 0], dilations=[1]))
    n = g.op("InstanceNormalization", g.op("Reshape", h, flat), g.constant("ones", np.ones(1, "f4")), g.constant("zeros", np.zeros(1, "f4")), epsilon=1e-5)
    h = g.op("Add", g.op("Mul", g.op("Reshape", n, g.op("Shape", h)), w["gain"]), w["shift"])
    h = gelu(g.op("Conv", h, w["conv2.weight"], w["conv2.bias"], strides=[3], pads=[0, 0], dilations=[1]))
    h = gelu(g.op("Conv", h, w["conv3.weight"], w["conv3.bias"], strides=[2], pads=[0, 0], dilations=[1]))
    x = g.op("Transpose", g.op("Squeeze", h, ints("first", 0)), perm=[1, 0])
    frames = g.op("Squeeze", g.op("Shape", x, start=0, end=1), ints("scalar", 0))
    place = g.op("Cast", g.op("Range", g.constant("from", np.int64(0)), frames, g.constant("step", np.int64(1))), to=1)
    speed = g.constant("speed", (10_000.0 ** (-np.arange(TURNED // 2) / (TURNED // 2))).astype("f4")[None])
    angle = g.op("Mul", g.op("Unsqueeze", place, ints("last", 1)), speed)
    cos, sin = g.op("Cos", angle), g.op("Sin", angle)
    for n in range(LAYERS):
        h = g.op("LayerNormalization", x, w[f"{n}.ln1"], axis=-1, epsilon=1e-5)
        q, k = (turned(g.op("MatMul", h, w[f"{n}.{m}"])) for m in "qk")
        v = g.op("Transpose", g.op("Reshape", g.op("MatMul", h, w[f"{n}.v"]), heads), perm=[1, 0, 2])
        a = g.op("Softmax", g.op("MatMul", q, g.op("Transpose", k, perm=[0, 2, 1])), axis=-1)
        y = g.op("Reshape", g.op("Transpose", g.op("MatMul", a, v), perm=[1, 0, 2]), whole)
        x = g.op("Add", x, g.op("MatMul", y, w[f"{n}.o"]))
        h = g.op("LayerNormalization", x, w[f"{n}.ln2"], axis=-1, epsilon=1e-5)
        h = gelu(g.op("Add", g.op("MatMul", h, w[f"{n}.fc1"]), g.constant(f"{n}.b1", p[f"{n}.b1"])))
        x = g.op("Add", x, g.op("Add", g.op("MatMul", h, w[f"{n}.fc2"]), g.constant(f"{n}.b2", p[f"{n}.b2"])))
    y = g.op("Add", g.op("MatMul", g.op("LayerNormalization", x, w["ln.weight"], axis=-1, epsilon=1e-5), w["head"]), w["head.bias"])
    y = g.op("Sub", g.op("LogSoftmax", y, axis=-1), w["prior"])
    g.op("Mul", y, g.constant("scale", np.float32(SCALE)), name="scores")
    value = lambda name, shape: helper.make_tensor_value_info(name, onnx.TensorProto.FLOAT, shape)
    body = helper.make_graph(g.nodes, "ear", [value("sound", [1, 1, "samples"])], [value("scores", ["frames", len(p["head.bias"])])],
                             [onnx.numpy_helper.from_array(v, k) for k, v in g.constants.items()])
    model = helper.make_model(body, opset_imports=[helper.make_opsetid("", 18)], ir_version=8, producer_name="stepbell")
    onnx.checker.check_model(model)
    return model


if __name__ == "__main__":
    _, _, weights, shares, out = sys.argv
    import onnx
    onnx.save(graph(parts(state(weights), np.load(shares))), out)
