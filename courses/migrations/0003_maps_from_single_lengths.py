from django.db import migrations

BATCH = 500


def fill_maps(apps, schema_editor):
    """A mirrored map with one length and the version's one fan in every cell; versions with a map stay."""
    versions = apps.get_model("courses", "BriefVersion").objects
    while batch := list(versions.filter(fan_kinds="").prefetch_related("cells")[:BATCH]):
        for version in batch:
            version.map = _map(version)
            version.fan_kinds = f" {version.fan_shape}-{version.diameter_hundredths} "
        versions.bulk_update(batch, ["map", "fan_kinds"])


def empty_maps(apps, schema_editor):
    """Back to one length a cell, the longest; what a map says besides is lost."""
    cell_model = apps.get_model("courses", "BriefCell")
    for version in apps.get_model("courses", "BriefVersion").objects.exclude(fan_kinds=""):
        side = next(iter(version.map["cells"].values()))
        cell_model.objects.filter(version=version).delete()
        cell_model.objects.bulk_create(
            cell_model(version=version, zone=zone, layer=layer, length_mm=cell["lengths"][-1]["length_mm"])
            for zone, layers in side.items()
            for layer, cell in layers.items()
        )
        version.map, version.fan_kinds = {}, ""
        version.save(update_fields=["map", "fan_kinds"])


def _map(version):
    zones = {zone: {} for zone in version.zones}
    for cell in version.cells.all():
        zones[cell.zone][cell.layer] = _cell(version, cell.length_mm)
    return {
        "zones": version.zones,
        "layers": version.layers,
        "eyes": "mirror",
        "cells": {"both": zones},
        "directions": [],
        "placement": [],
        "textured": False,
        "eye_shape": "",
        "face_note": "",
        "natural_length_mm": None,
    }


def _cell(version, length_mm):
    is_open = version.fan_shape == "open"
    return {
        "lengths": [{"length_mm": length_mm, "share_percent": 100}],
        "fan_shape": version.fan_shape,
        "filaments": version.filaments,
        "diameter_hundredths": version.diameter_hundredths,
        "curl": version.curl,
        "opening_deg": [version.opening_min_deg, version.opening_max_deg] if is_open else None,
    }


class Migration(migrations.Migration):

    dependencies = [("courses", "0002_brief_versions_gain_a_map")]

    operations = [migrations.RunPython(fill_maps, empty_maps)]
