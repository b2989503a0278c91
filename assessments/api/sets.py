from rest_framework.views import APIView


class SetView(APIView):
    pass


class EventsView(APIView):
    pass


class DraftView(APIView):
    pass
