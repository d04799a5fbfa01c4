// Reads 3MF files with lib3mf (1.8, C interface) and prints one line for each:
//   FILE ok|error warnings=N items=N triangles=N volume=V box=x0,y0,z0,x1,y1,z1 names=a|b
// With -i it reads strictly, warnings being errors, and then prints one line for each build item:
//   item volume=V box=x0,y0,z0,x1,y1,z1 colour=#rrggbbaa material=M name=N
// With -r it only reads, for timing. Compiled by the tests: it is the outside judge of what we write and read.
#include "Model/COM/NMR_DLLInterfaces.h"
#include <cstdio>
#include <cstring>
#include <string>
#include <vector>

using namespace NMR;

struct Sum {
    double volume = 0, lo[3] = {1e30, 1e30, 1e30}, hi[3] = {-1e30, -1e30, -1e30};
    unsigned long long triangles = 0;
};

struct Affine {
    double m[4][3];
};

static Affine identity() { return {{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}, {0, 0, 0}}}; }

static Affine then(const Affine &a, const Affine &b) {
    Affine out;
    for (int r = 0; r < 4; r++)
        for (int c = 0; c < 3; c++) {
            out.m[r][c] = r == 3 ? b.m[3][c] : 0;
            for (int k = 0; k < 3; k++) out.m[r][c] += a.m[r][k] * b.m[k][c];
        }
    return out;
}

// MODELTRANSFORM is column-vector order: m_fFields[row][column], translation in column 3.
static Affine from(const MODELTRANSFORM &t) {
    Affine out;
    for (int r = 0; r < 4; r++)
        for (int c = 0; c < 3; c++) out.m[r][c] = t.m_fFields[c][r];
    return out;
}

static void add(PLib3MFModelObjectResource *object, const Affine &place, Sum &sum) {
    BOOL isMesh = false;
    lib3mf_object_ismeshobject(object, &isMesh);
    if (!isMesh) {
        DWORD n = 0;
        lib3mf_componentsobject_getcomponentcount(object, &n);
        for (DWORD i = 0; i < n; i++) {
            PLib3MFModelComponent *component;
            PLib3MFModelObjectResource *child;
            MODELTRANSFORM t;
            lib3mf_componentsobject_getcomponent(object, i, &component);
            lib3mf_component_getobjectresource(component, &child);
            lib3mf_component_gettransform(component, &t);
            add(child, then(from(t), place), sum);
        }
        return;
    }
    DWORD vertices = 0, triangles = 0;
    lib3mf_meshobject_getvertexcount(object, &vertices);
    lib3mf_meshobject_gettrianglecount(object, &triangles);
    std::vector<MODELMESHVERTEX> v(vertices);
    std::vector<MODELMESHTRIANGLE> t(triangles);
    if (vertices) lib3mf_meshobject_getvertices(object, v.data(), vertices, nullptr);
    if (triangles) lib3mf_meshobject_gettriangleindices(object, t.data(), triangles, nullptr);
    std::vector<std::vector<double>> p(vertices, std::vector<double>(3));
    for (DWORD i = 0; i < vertices; i++)
        for (int c = 0; c < 3; c++) {
            double x = place.m[3][c];
            for (int k = 0; k < 3; k++) x += v[i].m_fPosition[k] * place.m[k][c];
            p[i][c] = x;
            if (x < sum.lo[c]) sum.lo[c] = x;
            if (x > sum.hi[c]) sum.hi[c] = x;
        }
    for (auto &f : t) {
        auto &a = p[f.m_nIndices[0]], &b = p[f.m_nIndices[1]], &c = p[f.m_nIndices[2]];
        sum.volume += (a[0] * (b[1] * c[2] - b[2] * c[1]) + a[1] * (b[2] * c[0] - b[0] * c[2]) +
                       a[2] * (b[0] * c[1] - b[1] * c[0])) / 6;
    }
    sum.triangles += triangles;
}

// material gives the base material that a whole object has.
static std::string material(PLib3MFModel *model, PLib3MFModelObjectResource *object) {
    PLib3MFDefaultPropertyHandler *handler;
    PLib3MFModelBaseMaterial *group;
    DWORD id = 0, index = 0;
    char name[500] = "", colour[16];
    ULONG needed;
    BYTE r, g, b, a;
    if (lib3mf_object_createdefaultpropertyhandler(object, &handler) != 0 ||
        lib3mf_defaultpropertyhandler_getbasematerial(handler, &id, &index) != 0 ||
        lib3mf_model_getbasematerialbyid(model, id, &group) != 0 ||
        lib3mf_basematerial_getnameutf8(group, index, name, sizeof name, &needed) != 0 ||
        lib3mf_basematerial_getdisplaycolor(group, index, &r, &g, &b, &a) != 0)
        return "colour=none material=";
    snprintf(colour, sizeof colour, "#%02x%02x%02x%02x", r, g, b, a);
    return std::string("colour=") + colour + " material=" + name;
}

int main(int argc, char **argv) {
    bool readOnly = argc > 1 && !strcmp(argv[1], "-r"), each = argc > 1 && !strcmp(argv[1], "-i");
    for (int i = readOnly || each ? 2 : 1; i < argc; i++) {
        PLib3MFModel *model;
        PLib3MFModelReader *reader;
        lib3mf_createmodel(&model);
        lib3mf_model_queryreader(model, "3mf", &reader);
        if (each) lib3mf_reader_setstrictmodeactive(reader, true);
        LIB3MFRESULT result = lib3mf_reader_readfromfileutf8(reader, argv[i]);
        DWORD warnings = 0;
        lib3mf_reader_getwarningcount(reader, &warnings);
        for (DWORD w = 0; w < warnings && w < 3; w++) {
            DWORD code;
            char text[500];
            ULONG needed;
            lib3mf_reader_getwarningutf8(reader, w, &code, text, sizeof text, &needed);
            fprintf(stderr, "%s: warning %lu: %s\n", argv[i], (unsigned long)code, text);
        }
        if (result != 0) {
            printf("%s error warnings=%lu\n", argv[i], (unsigned long)warnings);
        } else if (readOnly) {
            printf("%s ok\n", argv[i]);
        } else {
            Sum sum;
            unsigned items = 0;
            std::string names, lines;
            PLib3MFModelBuildItemIterator *it;
            BOOL more = false;
            lib3mf_model_getbuilditems(model, &it);
            while (lib3mf_builditemiterator_movenext(it, &more) == 0 && more) {
                PLib3MFModelBuildItem *item;
                PLib3MFModelObjectResource *object;
                MODELTRANSFORM t;
                lib3mf_builditemiterator_getcurrent(it, &item);
                lib3mf_builditem_getobjectresource(item, &object);
                lib3mf_builditem_getobjecttransform(item, &t);
                char name[500] = "";
                ULONG needed;
                lib3mf_object_getnameutf8(object, name, sizeof name, &needed);
                names += (items ? "|" : "") + std::string(name);
                items++;
                add(object, from(t), sum);
                if (each) {
                    Sum one;
                    char line[2000];
                    add(object, from(t), one);
                    snprintf(line, sizeof line, "item volume=%.9g box=%.9g,%.9g,%.9g,%.9g,%.9g,%.9g %s name=%s\n", one.volume, one.lo[0],
                             one.lo[1], one.lo[2], one.hi[0], one.hi[1], one.hi[2], material(model, object).c_str(), name);
                    lines += line;
                }
            }
            printf("%s ok warnings=%lu items=%u triangles=%llu volume=%.9g box=%.9g,%.9g,%.9g,%.9g,%.9g,%.9g names=%s\n", argv[i],
                   (unsigned long)warnings, items, sum.triangles, sum.volume, sum.lo[0], sum.lo[1], sum.lo[2], sum.hi[0], sum.hi[1], sum.hi[2], names.c_str());
            fputs(lines.c_str(), stdout);
        }
        lib3mf_release(reader);
        lib3mf_release(model);
    }
}
